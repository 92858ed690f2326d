-- Grain: one row per group, cluster of wearers, week since the last drying and outcome.
-- Denominator: aids of recheck_load with a reading and a known outcome. A cluster is a wearer, or
-- beyond 500 wearers one of 500 random groups of them.
-- State: whole, wearers are put in 500 groups by their number.
WITH clustered AS (
    SELECT
        wearer_key,
        (row_number() OVER (ORDER BY hash(wearer_key), wearer_key) - 1) % 500 AS cluster
    FROM (SELECT DISTINCT wearer_key FROM recheck_load)
)

SELECT
    2 * grouping_id(device_style, climate_group, season) + 1 AS grouping_id,
    device_style, climate_group, season,
    c.cluster,
    (l.days - 1) // 7 AS week,
    l.over,
    count(*) AS n
FROM recheck_load AS l
INNER JOIN clustered AS c ON c.wearer_key = l.wearer_key
WHERE l.gain_ul IS NOT NULL AND l.over IS NOT NULL
GROUP BY
    cluster, week, over,
    GROUPING SETS (
        (), (device_style), (climate_group), (season), (device_style, climate_group)
    )
