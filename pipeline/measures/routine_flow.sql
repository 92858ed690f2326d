-- Grain: one row.
-- Denominator: aids that may be compared, and what of them is left out; the plan in force.
WITH both_arms AS (
    SELECT stratum FROM comparison_aid WHERE is_measured
    GROUP BY stratum HAVING min(arm) < max(arm)
)

SELECT
    count(*) FILTER (WHERE arm = 1) AS dried_seen,
    count(*) FILTER (WHERE arm = 0) AS cleaned_seen,
    count(*) FILTER (WHERE arm = 1 AND NOT is_measured) AS dried_not_measured,
    count(*) FILTER (WHERE arm = 0 AND NOT is_measured) AS cleaned_not_measured,
    count(*) FILTER (WHERE arm = 1 AND is_measured AND b.stratum IS NULL) AS dried_without_other,
    count(*) FILTER (WHERE arm = 0 AND is_measured AND b.stratum IS NULL) AS cleaned_without_other,
    count(*) FILTER (WHERE arm = 1 AND is_measured) AS dried_measured,
    count(*) FILTER (WHERE arm = 0 AND is_measured) AS cleaned_measured,
    count(*) FILTER (
        WHERE arm = 1 AND is_measured AND b.stratum IS NOT NULL
        AND before_measured_when = 'after_cleaning'
    ) AS dried_after_cleaning,
    count(*) FILTER (
        WHERE arm = 0 AND is_measured AND b.stratum IS NOT NULL
        AND before_measured_when = 'after_cleaning'
    ) AS cleaned_after_cleaning,
    count(*) FILTER (WHERE arm = 1 AND is_measured AND b.stratum IS NOT NULL) AS dried_compared,
    count(*) FILTER (WHERE arm = 0 AND is_measured AND b.stratum IS NOT NULL) AS cleaned_compared,
    (sum(minutes_per_aid::DECIMAL(18, 6)) FILTER (WHERE arm = 1 AND is_measured)
    / nullif(count(minutes_per_aid) FILTER (WHERE arm = 1 AND is_measured), 0))::DOUBLE
        AS minutes_per_aid,
    (SELECT max(needed_per_arm) FROM comparison_plan) AS planned_per_arm,
    (SELECT min(starts_on) FROM comparison_plan) AS plan_starts_on,
    coalesce((SELECT min(starts_on) FROM comparison_plan) <= getvariable('as_of'), false)
        AS is_plan_begun
FROM comparison_aid AS a
LEFT JOIN both_arms AS b ON b.stratum = a.stratum
