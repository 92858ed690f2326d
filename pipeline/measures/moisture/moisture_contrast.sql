-- Grain: one row per wearer, site, reading and words of the load; words as places in moisture_word.
-- Denominator: one-aid loads used by moisture_distribution on the basis 'corrected'.
-- State: sums of wearers by wearer, site_id, value_ul, below, season, climate_group, device_style,
-- exposure, visit_reason, days_since_dry_band, home_dryer.
SELECT
    wearer,
    site_id,
    value_hundredths_ul / 100 AS value_ul,
    below,
    season,
    climate_group,
    device_style,
    exposure,
    visit_reason,
    days_since_dry_band,
    home_dryer,
    count(*) AS loads
FROM moisture_load
WHERE is_corrected AND aids = 1 AND fate = 'used'
GROUP BY ALL
ORDER BY ALL
