-- Grain: one row once a plan has begun, else none.
-- Denominator: the recorded plan.
-- State: whole, the plan.
SELECT
    min(starts_on) AS starts_on,
    max(ends_on) AS ends_on,
    max(needed_per_arm) AS needed_per_arm,
    list(DISTINCT site_id ORDER BY site_id) AS sites
FROM comparison_plan
HAVING bool_or(is_begun)
