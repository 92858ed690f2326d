-- Grain: one row per outcome, site and rows_counted.
-- Denominator: rows of compared_outcome.
-- State: sums of wearers by outcome, site_id, rows_counted.
SELECT outcome, site_id, rows_counted, count(*) AS n
FROM compared_outcome
GROUP BY ALL
