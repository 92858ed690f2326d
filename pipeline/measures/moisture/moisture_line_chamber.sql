-- Grain: one row per chamber's lines since one service, grouping and group, of corrected readings.
-- Denominator: the loads used by moisture_distribution on the basis 'corrected': `loads`, those of one
-- aid and of two. p and q add up what a standard error of the intercept and of the slope moves.
-- State: sums of wearers by line_key, grouping_id, season, climate_group, device_style, exposure,
-- visit_reason, cycle_programme, days_since_dry_band, home_dryer, site_id.
SELECT
    line_key,
    grouping_id({moisture_group}) AS grouping_id,
    {moisture_group},
    count(*) AS loads,
    count(*) FILTER (aids = 1) AS loads_of_one,
    count(*) FILTER (aids = 2) AS loads_of_two,
    sum(round(intercept_move_ul, 6)::DECIMAL(18, 6)) FILTER (aids = 1) AS p1,
    sum(round(intercept_move_ul, 6)::DECIMAL(18, 6)) FILTER (aids = 2) AS p2,
    sum(round(slope_move, 6)::DECIMAL(18, 6)) FILTER (aids = 1) AS q1,
    sum(round(slope_move, 6)::DECIMAL(18, 6)) FILTER (aids = 2) AS q2,
    sum(round(intercept_slope_correlation, 6)::DECIMAL(18, 6)) AS correlations
FROM moisture_load
WHERE is_corrected AND value_hundredths_ul IS NOT NULL AND intercept_move_ul IS NOT NULL
GROUP BY
    line_key,
    {moisture_grouping_sets}
