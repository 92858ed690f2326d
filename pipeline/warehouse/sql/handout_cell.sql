-- Grain: one row per cell and centile that may hold the reading, from the finest cell (level 1)
-- to all aids of the style (level 6).
SELECT
    CASE
        WHEN days_since_dry_band IS NOT NULL AND season IS NOT NULL THEN 1
        WHEN days_since_dry_band IS NOT NULL AND climate_group IS NOT NULL THEN 2
        WHEN days_since_dry_band IS NOT NULL THEN 3
        WHEN season IS NOT NULL THEN 4
        WHEN climate_group IS NOT NULL THEN 5
        ELSE 6
    END AS level,
    device_style,
    days_since_dry_band,
    climate_group,
    season,
    centile,
    moisture_per_aid_ul,
    moisture_per_aid_bound_low_ul AS bound_low_ul,
    moisture_per_aid_bound_high_ul AS bound_high_ul,
    n,
    wearers,
    below_detection,
    highest_limit_ul,
    withheld
FROM moisture_centile
WHERE
    device_style = $device_style
    AND coalesce(days_since_dry_band = $days_since_dry_band, days_since_dry_band IS NULL)
    AND coalesce(climate_group = $climate_group, climate_group IS NULL)
    AND coalesce(season = $season, season IS NULL)
ORDER BY level, centile
