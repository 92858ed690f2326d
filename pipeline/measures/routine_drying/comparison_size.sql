-- Grain: one row per site.
-- Denominator: aids of comparison_eligible: their wearers, each of one site.
-- State: sums of wearers by site_id.
SELECT site_id, count(DISTINCT wearer_key) AS wearers
FROM comparison_eligible
GROUP BY site_id
