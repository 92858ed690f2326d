-- Grain: one row per group and days of a wearer's shortest gap, and one per group and days of a
-- wearer's longest, which counts wearers alone.
-- Denominator: aids of recheck_load with a reading, and their wearers.
-- State: sums of wearers by grouping_id, device_style, climate_group, season, days_since_dry_band,
-- is_shortest, days.
WITH per_wearer AS (
    SELECT
        grouping_id({recheck_words}) AS grouping_id,
        {recheck_words},
        wearer_key,
        count(*) AS n,
        count_if(below) AS below_detection,
        count(*) FILTER (WHERE over = 1) AS over,
        count_if(over IS NULL) AS undecided,
        min(days) AS shortest,
        max(days) AS longest
    FROM recheck_load
    WHERE gain_ul IS NOT NULL
    GROUP BY
        wearer_key,
        {recheck_sets}
)

SELECT
    grouping_id, {recheck_words}, true AS is_shortest, shortest AS days,
    count(*) AS wearers,
    sum(n)::BIGINT AS n,
    sum(below_detection)::BIGINT AS below_detection,
    sum(over)::BIGINT AS over_level,
    sum(undecided)::BIGINT AS undecided
FROM per_wearer
GROUP BY ALL
UNION ALL
SELECT
    grouping_id, {recheck_words}, false AS is_shortest, longest AS days,
    count(*) AS wearers, 0 AS n, 0 AS below_detection, 0 AS over_level, 0 AS undecided
FROM per_wearer
GROUP BY ALL
