-- Grain: one row per outcome, site and pattern of covariates.
-- Denominator: rows of compared_aid.
-- State: sums of wearers by outcome, site_id, pattern.
SELECT outcome, site_id, pattern, count(*) AS n, count(*) FILTER (WHERE has_event) AS events
FROM compared_aid
GROUP BY ALL
ORDER BY ALL
