-- Grain: one row per pattern of covariates: its words.
-- Denominator: the patterns met in compared_aid.
SELECT DISTINCT
    pattern,
    condition,
    exposure,
    delay_band,
    device_style,
    power_source,
    device_age_band,
    season
FROM compared_aid
ORDER BY pattern
