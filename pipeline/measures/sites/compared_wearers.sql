-- Grain: one row per outcome: its clusters.
-- Denominator: rows of compared_aid.
-- State: sums of wearers by outcome.
SELECT outcome, count(DISTINCT cluster) AS clusters
FROM compared_aid
GROUP BY outcome
