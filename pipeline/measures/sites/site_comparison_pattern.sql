-- Grain: one row per pattern of covariates: its words.
-- Denominator: the patterns met in compared_aid.
-- State: sums of wearers by pattern, condition, exposure, delay_band, device_style,
-- power_source, device_age_band, season.
SELECT
    pattern,
    condition,
    exposure,
    delay_band,
    device_style,
    power_source,
    device_age_band,
    season,
    count(*) AS met
FROM compared_aid
GROUP BY ALL
ORDER BY pattern
