-- Grain: one row per outcome and site: how many wearers, or chambers, its rows come from.
-- Denominator: rows of compared_aid.
SELECT outcome, site_id, count(DISTINCT cluster) AS wearers
FROM compared_aid
GROUP BY ALL
ORDER BY ALL
