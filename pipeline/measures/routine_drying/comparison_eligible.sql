-- Grain: one row per working aid at a clean-and-check that may be compared: first cycles of
-- dried aids, and cleaned-only aids.
-- Denominator: working on arrival and before drying, measured before, no exposure, no symptom,
-- inside the rates; each counts, measured afterwards or not. is_in: its quarter is in the analysis
-- set, or only before the period and the plan's; the rest asks for it. has_outcome: stopped, or
-- measured. Once a plan has begun: its sites, from its first week to its last.
SELECT
    s.file_id,
    s.line,
    s.part_of_line,
    s.site_id,
    s.wearer_key,
    s.measured_change,
    s.is_any_positive_change,
    s.hfa_gain_change,
    s.hfa_ospl90_change,
    s.thd_change,
    s.hfa_gain_before_db,
    s.hfa_gain_after_db,
    s.hfa_ospl90_before_db_spl,
    s.hfa_ospl90_after_db_spl,
    s.thd_before_pct,
    s.thd_after_pct,
    s.condition_after,
    s.device_style,
    s.device_age_band,
    s.days_since_dry_band,
    s.power_source,
    s.home_dryer,
    s.ear,
    s.before_measured_when,
    s.cycle_minutes,
    s.aids_in_chamber,
    s.is_alone,
    s.is_complete,
    s.is_below_detection,
    s.moisture_per_aid_ul,
    s.dryer_id,
    date_trunc('week', s.local_date)::DATE AS week,
    s.arm,
    s.is_stopped,
    s.is_assessed,
    s.is_measured,
    s.is_grade_different,
    coalesce(a.is_in OR (a.reason = 'before_period' AND p.starts_on IS NOT NULL), true) AS is_in,
    is_in AND (s.is_stopped OR s.is_measured) AS has_outcome,
    p.needed_per_arm
FROM working_outcome AS s
LEFT JOIN analysis_set AS a
    ON a.measure = 'routine_drying' AND a.site_id = s.site_id
    AND a.quarter = date_trunc('quarter', s.local_date)
LEFT JOIN comparison_period AS p ON true
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
