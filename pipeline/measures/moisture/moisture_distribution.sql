-- Grain: one row per basis, aids in the load, grouping, group, stratum (site; null over every
-- limit), value and whether it is below detection; then it is at most the value. cell tells grouping
-- and group. Denominator: the loads of moisture_load; as read within sites only. Loads left out are
-- counted in rows without a value. grouping_id: a bit a column, 0 = grouped by; words by
-- moisture_word.
-- State: sums of wearers by is_corrected, aids, fate, grouping_id, season, climate_group,
-- device_style, exposure, visit_reason, cycle_programme, days_since_dry_band, home_dryer, site_id,
-- cell, stratum, value_ul, below.
WITH load AS (
    SELECT l.*, CASE WHEN l.value_hundredths_ul <= t.top_hundredths_ul THEN l.site_id END AS stratum
    FROM moisture_load AS l
    INNER JOIN moisture_top AS t ON t.is_corrected = l.is_corrected
),

counted AS (
    SELECT
        is_corrected, aids, fate, stratum, value_hundredths_ul, below,
        grouping_id({moisture_group}) AS grouping_id,
        {moisture_group},
        count(*) AS loads,
        coalesce(sum(dew_point_tenths_c), 0) AS dew_points_tenths_c,
        count(dew_point_tenths_c) AS with_dew_point
    FROM load
    WHERE is_corrected
    GROUP BY
        is_corrected, aids, fate, stratum, value_hundredths_ul, below,
        {moisture_grouping_sets}
    UNION ALL BY NAME
    SELECT
        is_corrected, aids, fate, stratum, value_hundredths_ul, below,
        510 AS grouping_id,
        site_id,
        count(*) AS loads,
        coalesce(sum(dew_point_tenths_c), 0) AS dew_points_tenths_c,
        count(dew_point_tenths_c) AS with_dew_point
    FROM load
    WHERE NOT is_corrected
    GROUP BY is_corrected, aids, fate, stratum, value_hundredths_ul, below, site_id
)

SELECT
    is_corrected,
    aids,
    fate,
    grouping_id,
    {moisture_group},
    hash(grouping_id, {moisture_group}) AS cell,
    stratum,
    value_hundredths_ul / 100 AS value_ul,
    below,
    loads,
    dew_points_tenths_c::BIGINT AS dew_points_tenths_c,
    with_dew_point
FROM counted
