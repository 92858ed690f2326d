-- Grain: one row per measure and dried aid measured by it before and after and still working.
-- Denominator: aids that may be compared and were dried, of a recorded style.
SELECT 'hfa_gain' AS measure, device_style, wearer_cluster,
    hfa_gain_before_db::DECIMAL(18, 6) AS before, hfa_gain_after_db::DECIMAL(18, 6) AS after
FROM comparison_aid
WHERE is_in AND arm = 1 AND hfa_gain_change IS NOT NULL AND NOT is_stopped
    AND device_style IS NOT NULL
UNION ALL BY NAME
SELECT 'hfa_ospl90' AS measure, device_style, wearer_cluster,
    hfa_ospl90_before_db_spl::DECIMAL(18, 6) AS before,
    hfa_ospl90_after_db_spl::DECIMAL(18, 6) AS after
FROM comparison_aid
WHERE is_in AND arm = 1 AND hfa_ospl90_change IS NOT NULL AND NOT is_stopped
    AND device_style IS NOT NULL
UNION ALL BY NAME
SELECT 'thd' AS measure, device_style, wearer_cluster,
    thd_before_log::DECIMAL(18, 6) AS before, thd_after_log::DECIMAL(18, 6) AS after
FROM comparison_aid
WHERE is_in AND arm = 1 AND thd_change IS NOT NULL AND NOT is_stopped AND device_style IS NOT NULL
