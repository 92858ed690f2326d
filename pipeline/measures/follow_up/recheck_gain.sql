-- Grain: one row per group, reading and whether it is a limit.
-- Denominator: aids of recheck_load with a reading.
-- State: sums of wearers by grouping_id, device_style, climate_group, season, days_since_dry_band,
-- gain_ul, below.
SELECT
    grouping_id({recheck_words}) AS grouping_id, {recheck_words}, gain_ul, below, count(*) AS n
FROM recheck_load
WHERE gain_ul IS NOT NULL
GROUP BY
    gain_ul, below,
    {recheck_sets}
