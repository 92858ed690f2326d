-- Median water per aid by season and style within each climate, from one-aid loads.
SELECT group_1 AS season, group_2 AS climate_group, group_3 AS device_style, n, wearers,
    round(share_below_detection, 2) AS below_detection, round(median_ul, 2) AS median_ul,
    round(median_low_ul, 2) AS low_ul, round(median_high_ul, 2) AS high_ul
FROM moisture_distribution
WHERE grouping = 'season+climate_group+device_style' AND aids_in_chamber = 1
ORDER BY climate_group, device_style, season
