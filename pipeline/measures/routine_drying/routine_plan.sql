-- Grain: one row: the plan in force.
-- Denominator: the recorded plan.
-- State: whole, the plan.
SELECT
    max(needed_per_arm) AS planned_per_arm,
    max(worthwhile_net_benefit) AS planned_worthwhile,
    max(net_confidence) AS planned_confidence,
    coalesce(bool_or(is_begun), false) AS is_plan_begun
FROM comparison_plan
