-- Grain: one row per site with any session or dose check: what stands beside its comparison.
-- Denominator: named beside each count.
-- State: of site.
WITH known AS (
    SELECT site_id FROM session
    UNION
    SELECT site_id FROM session_aid
    UNION
    SELECT site_id FROM dose_check
),

covered AS (
    SELECT site_id, count(DISTINCT month) AS months_covered
    FROM session
    GROUP BY site_id
),

-- A site's counts of dead aids repeat on its chambers: one is taken a month.
dead_month AS (
    SELECT site_id, month, max(dead_dried) AS dead_dried, max(dead_seen) AS dead_seen
    FROM utilisation
    GROUP BY site_id, month
    HAVING max(dead_seen) IS NOT NULL
),

dead AS (
    SELECT
        site_id,
        sum(dead_dried)::BIGINT AS dead_dried,
        sum(dead_seen)::BIGINT AS dead_seen
    FROM dead_month
    GROUP BY site_id
),

-- First cycles of dried aids inside the rates.
dried AS (
    SELECT
        site_id,
        count(*) AS aids_dried,
        count(*) FILTER (WHERE condition_after IS NULL) AS aids_not_assessed
    FROM session_aid
    WHERE treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
    GROUP BY site_id
),

checks AS (
    SELECT
        site_id,
        sum(numerator) FILTER (WHERE check_name = 'measures_copied_forward')::BIGINT
            AS copied_forward,
        sum(denominator) FILTER (WHERE check_name = 'measures_copied_forward')::BIGINT
            AS measured_twice,
        sum(numerator) FILTER (WHERE check_name = 'rows_refused')::BIGINT AS rows_refused,
        sum(denominator) FILTER (WHERE check_name = 'rows_refused')::BIGINT AS rows_read
    FROM data_quality
    GROUP BY site_id
),

-- The lower of the agreement before and after drying, each of 30 aids or more.
agreed AS (
    SELECT site_id, min(share_agree) AS agreement_share
    FROM condition_agreement
    WHERE site_id IS NOT NULL AND moment IN ('before', 'after') AND assessed >= 30
    GROUP BY site_id
),

chambers AS (
    SELECT
        site_id,
        count(*) AS chambers,
        count(*) FILTER (WHERE standing = 'in_tolerance') AS chambers_in_tolerance,
        -- The worst of the site's chambers.
        arg_min(
            standing,
            list_position(
                [
                    'out_of_tolerance', 'scattering', 'drifting', 'misreading', 'never_checked',
                    'overdue', 'retest', 'correctable', 'too_few_checks', 'in_tolerance'
                ],
                standing
            )
        ) AS calibration_standing
    FROM dryer_calibration
    WHERE removed_on IS NULL
    GROUP BY site_id
)

SELECT
    k.site_id,
    coalesce(c.months_covered, 0) AS months_covered,
    d.dead_dried,
    d.dead_seen,
    coalesce(f.aids_dried, 0) AS aids_dried,
    coalesce(f.aids_not_assessed, 0) AS aids_not_assessed,
    coalesce(q.copied_forward, 0) AS copied_forward,
    coalesce(q.measured_twice, 0) AS measured_twice,
    coalesce(q.rows_refused, 0) AS rows_refused,
    coalesce(q.rows_read, 0) AS rows_read,
    coalesce(h.chambers, 0) AS chambers,
    coalesce(h.chambers_in_tolerance, 0) AS chambers_in_tolerance,
    h.calibration_standing,
    a.agreement_share
FROM known AS k
LEFT JOIN covered AS c ON c.site_id = k.site_id
LEFT JOIN dead AS d ON d.site_id = k.site_id
LEFT JOIN dried AS f ON f.site_id = k.site_id
LEFT JOIN checks AS q ON q.site_id = k.site_id
LEFT JOIN chambers AS h ON h.site_id = k.site_id
LEFT JOIN agreed AS a ON a.site_id = k.site_id
ORDER BY k.site_id
