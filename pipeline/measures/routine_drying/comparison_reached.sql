-- Grain: one row: the week in which both arms have the planned number; null till then.
-- Denominator: that of comparison_week.
-- State: whole, made from comparison_week.
SELECT min(week) AS week
FROM (
    SELECT
        week,
        sum(dried) OVER (ORDER BY week) AS dried,
        sum(cleaned) OVER (ORDER BY week) AS cleaned
    FROM comparison_week
)
CROSS JOIN comparison_period AS p
WHERE dried >= p.needed_per_arm AND cleaned >= p.needed_per_arm
