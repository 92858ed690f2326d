-- Grain: one row per working aid at a clean-and-check that may be compared: first cycles of
-- dried aids, and cleaned-only aids.
-- Denominator: working on arrival and before drying, measured before, no exposure, no symptom,
-- inside the rates; each counts, measured afterwards or not. is_in: its quarter is in the analysis
-- set, or only before the period and the plan's; the rest asks for it. has_outcome: stopped, or
-- measured. is_compared: its site-quarter has aids of both arms graded or measured afterwards.
-- Once a plan has begun: its sites, from its first week to the one in which both arms have the
-- planned number. Over 20 000 wearers, groups of wearers by hash stand for them, so that what is
-- handed on stays small; sums over independent clusters stay valid for groups of them.
WITH plan AS (
    SELECT
        min(starts_on) AS starts_on,
        max(ends_on) AS ends_on,
        max(needed_per_arm) AS needed_per_arm,
        list(DISTINCT site_id) AS sites
    FROM comparison_plan
    HAVING bool_or(is_begun)
),

eligible AS (
    SELECT
        s.*,
        date_trunc('week', s.local_date)::DATE AS week,
        o.arm,
        o.is_stopped,
        o.is_assessed,
        o.is_measured,
        o.is_grade_different,
        coalesce(a.is_in OR (a.reason = 'before_period' AND p.starts_on IS NOT NULL), true) AS is_in,
        is_in AND (o.is_stopped OR o.is_measured) AS has_outcome,
        p.needed_per_arm
    FROM session_aid AS s
    JOIN working_outcome AS o
        ON o.file_id = s.file_id AND o.line = s.line AND o.part_of_line = s.part_of_line
    LEFT JOIN analysis_set AS a
        ON a.measure = 'routine_drying' AND a.site_id = s.site_id
        AND a.quarter = date_trunc('quarter', s.local_date)
    LEFT JOIN plan AS p ON true
    WHERE
        s.visit_reason = 'clean_and_check' AND s.condition_before = 'normal'
        AND coalesce(s.exposure, 'none_known') = 'none_known'
        AND coalesce(len(s.symptoms), 0) = 0
        AND s.hfa_gain_before_db IS NOT NULL
        AND (
            p.starts_on IS NULL
            OR (
                list_contains(p.sites, s.site_id)
                AND s.local_date BETWEEN p.starts_on AND p.ends_on
            )
        )
),

reached AS (
    SELECT min(week) AS week
    FROM (
        SELECT
            week,
            any_value(needed_per_arm) AS needed,
            sum(count(*) FILTER (WHERE has_outcome AND arm = 1)) OVER (ORDER BY week) AS dried,
            sum(count(*) FILTER (WHERE has_outcome AND arm = 0)) OVER (ORDER BY week) AS cleaned
        FROM eligible
        GROUP BY week
    )
    WHERE dried >= needed AND cleaned >= needed
),

many AS (
    SELECT
        count(DISTINCT wearer_key) > 20000 AS is_many,
        greatest(10, 5000 // greatest(1, count(DISTINCT site_id))) AS groups_per_site
    FROM eligible
),

placed AS (
    SELECT *, concat(site_id, '#', date_trunc('quarter', week)::DATE) AS stratum FROM eligible
)

SELECT
    e.file_id,
    e.line,
    e.part_of_line,
    e.site_id,
    e.wearer_key,
    CASE
        WHEN m.is_many
            THEN concat(e.site_id, '#', md5_number_lower(e.wearer_key) % m.groups_per_site)
        ELSE e.wearer_key
    END AS wearer_cluster,
    e.week,
    concat(e.site_id, '#', e.week) AS site_week,
    e.stratum,
    e.arm,
    e.is_stopped,
    e.is_assessed,
    e.is_measured,
    e.is_grade_different,
    e.is_in,
    e.has_outcome,
    e.is_in AND coalesce(
        min(e.arm) FILTER (WHERE e.is_in AND e.is_assessed) OVER (PARTITION BY e.stratum)
        < max(e.arm) FILTER (WHERE e.is_in AND e.is_assessed) OVER (PARTITION BY e.stratum),
        false
    ) AS is_compared,
    e.measured_change,
    e.is_any_positive_change,
    e.hfa_gain_change,
    e.hfa_ospl90_change,
    e.thd_change,
    e.hfa_gain_before_db,
    e.hfa_gain_after_db,
    e.hfa_ospl90_before_db_spl,
    e.hfa_ospl90_after_db_spl,
    ln(greatest(e.thd_before_pct, 0.1)) AS thd_before_log,
    ln(greatest(e.thd_after_pct, 0.1)) AS thd_after_log,
    e.condition_after,
    e.device_style,
    e.device_age_band,
    e.days_since_dry_band,
    e.power_source,
    e.home_dryer,
    e.ear,
    coalesce(e.before_measured_when, 'unknown') AS before_measured_when,
    e.cycle_minutes / e.aids_in_chamber AS minutes_per_aid,
    e.is_alone,
    e.is_complete,
    e.is_below_detection,
    e.moisture_per_aid_ul,
    e.dryer_id
FROM placed AS e
CROSS JOIN many AS m
CROSS JOIN reached AS r
WHERE r.week IS NULL OR e.week <= r.week
