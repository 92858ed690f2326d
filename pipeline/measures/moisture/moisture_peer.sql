-- Grain: one row per load.
-- Denominator: aids seen at clean-and-check, working before drying, no known exposure, dried
-- before; loads of one aid and nothing else.
SELECT *
FROM moisture_reading
WHERE
    aids = 1 AND visit_reason = 'clean_and_check' AND condition_before_drying = 'normal'
    AND exposure = 'none_known' AND days_since_dry_band <> 'first_seen'
    AND device_style IS NOT NULL AND device_style NOT IN ('other', 'unknown')
