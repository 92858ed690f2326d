-- Grain: part 'gain': one row per group, reading and whether it is a limit; 'group': one row per
-- group; 'over': one row per group, cluster of wearers, week since the last drying and outcome.
-- Denominator: first cycles of aids dried before, alone in the chamber, not immersed or splashed,
-- inside the rates, read by a chamber in tolerance or correctable and corrected. A cluster is a
-- wearer, or beyond 500 wearers one of 500 random groups of them.
-- State: whole, wearers are put in 500 groups by their number and the thirtieth day is told.
WITH load AS (
    SELECT
        wearer_key,
        device_style,
        climate_group,
        season,
        days_since_dry_band,
        days_since_last_dry AS days,
        coalesce(is_below_detection, false) AS below,
        round(
            CASE
                WHEN coalesce(is_below_detection, false) THEN moisture_limit_per_aid_ul
                ELSE moisture_per_aid_ul
            END,
            1
        ) AS gain_ul,
        CASE
            WHEN coalesce(is_below_detection, false)
                THEN CASE WHEN moisture_limit_per_aid_ul <= getvariable('moisture_action_level_ul') THEN 0 END
            ELSE (moisture_per_aid_ul > getvariable('moisture_action_level_ul'))::INTEGER
        END AS over
    FROM session_aid
    WHERE
        treatment = 'dried' AND is_first_cycle AND is_alone AND is_complete
        AND NOT is_outside_rates AND days_since_last_dry >= 1
        AND coalesce(exposure, 'unknown') NOT IN ('immersion', 'splash')
        AND moisture_basis = 'corrected' AND standing IN ('in_tolerance', 'correctable')
),

clustered AS (
    SELECT
        wearer_key,
        (row_number() OVER (ORDER BY hash(wearer_key), wearer_key) - 1) % 500 AS cluster
    FROM (SELECT DISTINCT wearer_key FROM load)
),

known AS (
    SELECT l.*, c.cluster
    FROM load AS l
    INNER JOIN clustered AS c ON c.wearer_key = l.wearer_key
    WHERE l.gain_ul IS NOT NULL
),

per_wearer AS (
    SELECT
        grouping_id(device_style, climate_group, season, days_since_dry_band) AS grouping_id,
        device_style, climate_group, season, days_since_dry_band,
        wearer_key,
        count(*) AS n,
        count_if(below) AS below_detection,
        count(*) FILTER (WHERE over = 1) AS over,
        count_if(over IS NULL) AS undecided,
        min(days) AS shortest,
        max(days) AS longest
    FROM known
    GROUP BY
        wearer_key,
        GROUPING SETS (
            (), (device_style), (climate_group), (season), (days_since_dry_band),
            (device_style, climate_group), (device_style, days_since_dry_band)
        )
),

by_group AS (
    SELECT
        'group' AS part,
        grouping_id,
        device_style, climate_group, season, days_since_dry_band,
        sum(n)::BIGINT AS n,
        count(*) AS wearers,
        sum(below_detection)::BIGINT AS below_detection,
        sum(over)::BIGINT AS over_level,
        sum(undecided)::BIGINT AS undecided,
        CASE WHEN count(*) >= 30 THEN min(shortest, 30)[30] END AS shortest_gap_days,
        CASE WHEN count(*) >= 30 THEN max(longest, 30)[30] END AS longest_gap_days
    FROM per_wearer
    GROUP BY ALL
),

by_gain AS (
    SELECT
        'gain' AS part,
        grouping_id(device_style, climate_group, season, days_since_dry_band) AS grouping_id,
        device_style, climate_group, season, days_since_dry_band,
        gain_ul,
        below,
        count(*) AS n
    FROM known
    GROUP BY
        gain_ul, below,
        GROUPING SETS (
            (), (device_style), (climate_group), (season), (days_since_dry_band),
            (device_style, climate_group), (device_style, days_since_dry_band)
        )
),

by_week AS (
    SELECT
        'over' AS part,
        2 * grouping_id(device_style, climate_group, season) + 1 AS grouping_id,
        device_style, climate_group, season,
        cluster,
        (days - 1) // 7 AS week,
        over,
        count(*) AS n
    FROM known
    WHERE over IS NOT NULL
    GROUP BY
        cluster, week, over,
        GROUPING SETS (
            (), (device_style), (climate_group), (season), (device_style, climate_group)
        )
)

FROM by_group
UNION ALL BY NAME
FROM by_gain
UNION ALL BY NAME
FROM by_week
ORDER BY ALL
