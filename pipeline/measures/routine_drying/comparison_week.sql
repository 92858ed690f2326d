-- Grain: one row per week of a plan that has begun.
-- Denominator: aids of comparison_eligible with an outcome.
-- State: sums of wearers by week.
SELECT
    week,
    count(*) FILTER (WHERE arm = 1) AS dried,
    count(*) FILTER (WHERE arm = 0) AS cleaned
FROM comparison_eligible
WHERE has_outcome AND needed_per_arm IS NOT NULL
GROUP BY week
