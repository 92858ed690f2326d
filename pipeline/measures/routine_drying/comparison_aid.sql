-- Grain: one row per working aid that may be compared, as comparison_eligible.
-- Denominator: that of comparison_eligible; of a plan, to the week in which both arms have the
-- planned number. is_compared: its site-quarter has aids of both arms graded or measured afterwards
-- (comparison_both).
-- Over 20 000 wearers, groups of wearers by hash stand for them, so that what is
-- handed on stays small; sums over independent clusters stay valid for groups of them.
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
    concat(e.site_id, '#', date_trunc('quarter', e.week)::DATE) AS stratum,
    e.arm,
    e.is_stopped,
    e.is_assessed,
    e.is_measured,
    e.is_grade_different,
    e.is_in,
    e.has_outcome,
    e.is_in AND b.site_id IS NOT NULL AS is_compared,
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
FROM comparison_eligible AS e
CROSS JOIN comparison_groups AS m
CROSS JOIN comparison_reached AS r
LEFT JOIN comparison_both AS b
    ON b.site_id = e.site_id AND b.quarter = date_trunc('quarter', e.week)::DATE
WHERE r.week IS NULL OR e.week <= r.week
