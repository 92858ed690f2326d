-- Grain: one row per condition before drying and reading.
-- Denominator: aids of cycle_problem with a reading.
-- State: sums of wearers by condition_before, reading.
SELECT condition_before, reading, count(*) AS n
FROM cycle_problem
WHERE reading IS NOT NULL
GROUP BY ALL
