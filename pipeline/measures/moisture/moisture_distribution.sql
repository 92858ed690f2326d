-- Grain: one row per basis, aids in the load, grouping, group, stratum (site; null over every
-- limit), value and whether it is below detection; then it is at most the value. cell tells grouping
-- and group. Denominator: the loads of moisture_load; as read within sites only. Loads left out are
-- counted in rows without a value. grouping_id: a bit a column, 0 = grouped by; words by
-- moisture_word.
WITH top AS (
    SELECT is_corrected, max(value) FILTER (WHERE below) AS top
    FROM moisture_load
    GROUP BY ALL
),

load AS (
    SELECT l.*, CASE WHEN l.value <= t.top THEN l.site_id END AS stratum
    FROM moisture_load AS l
    INNER JOIN top AS t ON t.is_corrected = l.is_corrected
),

counted AS (
    SELECT
        is_corrected, aids, fate, stratum, value, below,
        grouping_id(
            season, climate_group, device_style, exposure, visit_reason, cycle_programme,
            days_since_dry_band, home_dryer, site_id
        ) AS grouping_id,
        season, climate_group, device_style, exposure, visit_reason, cycle_programme,
        days_since_dry_band, home_dryer, site_id,
        count(*) AS loads,
        sum(dew_point) AS dew_points,
        count(dew_point) AS with_dew_point,
        min(lowest_limit) AS lowest_limit
    FROM load
    WHERE is_corrected
    GROUP BY
        is_corrected, aids, fate, stratum, value, below,
        GROUPING SETS (
            (), (season), (climate_group), (device_style), (season, climate_group),
            (device_style, climate_group), (season, climate_group, device_style), (exposure),
            (visit_reason), (cycle_programme), (days_since_dry_band), (home_dryer), (site_id)
        )
    UNION ALL BY NAME
    SELECT
        is_corrected, aids, fate, stratum, value, below,
        510 AS grouping_id,
        site_id,
        count(*) AS loads,
        sum(dew_point) AS dew_points,
        count(dew_point) AS with_dew_point,
        min(lowest_limit) AS lowest_limit
    FROM load
    WHERE NOT is_corrected
    GROUP BY is_corrected, aids, fate, stratum, value, below, site_id
)

SELECT
    is_corrected,
    aids,
    fate,
    grouping_id,
    season, climate_group, device_style, exposure, visit_reason, cycle_programme,
    days_since_dry_band, home_dryer, site_id,
    hash(
        grouping_id, season, climate_group, device_style, exposure, visit_reason, cycle_programme,
        days_since_dry_band, home_dryer, site_id
    ) AS cell,
    stratum,
    value / 100 AS value,
    below,
    loads,
    dew_points::BIGINT AS dew_points,
    with_dew_point,
    lowest_limit / 100 AS lowest_limit
FROM counted
