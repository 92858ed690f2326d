-- Grain: one row over everything.
-- Denominator: aids of comparison_eligible: their wearers, each of one site, and their sites.
-- State: sums.
SELECT count(DISTINCT wearer_key) AS wearers, count(DISTINCT site_id) AS sites
FROM comparison_eligible
