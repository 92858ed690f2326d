-- Grain: part 'gain': one row per group, reading and whether it is a limit; 'group': one row per
-- group; 'over': one row per group, cluster of wearers, week since the last drying and outcome.
-- Denominator: aids of recheck_load with a reading. The gaps told are the thirtieth shortest and
-- the thirtieth longest of a wearer.
-- State: whole, made from recheck_gain, recheck_group and recheck_week.
WITH ranked AS (
    SELECT
        *,
        sum(wearers) OVER (
            PARTITION BY grouping_id, {recheck_words}, is_shortest
            ORDER BY if(is_shortest, days, -days)
        ) AS up_to
    FROM recheck_group
),

by_group AS (
    SELECT
        'group' AS part,
        grouping_id,
        {recheck_words},
        sum(n)::BIGINT AS n,
        (sum(wearers) FILTER (WHERE is_shortest))::BIGINT AS wearers,
        sum(below_detection)::BIGINT AS below_detection,
        sum(over_level)::BIGINT AS over_level,
        sum(undecided)::BIGINT AS undecided,
        min(days) FILTER (WHERE is_shortest AND up_to >= 30) AS shortest_gap_days,
        max(days) FILTER (WHERE NOT is_shortest AND up_to >= 30) AS longest_gap_days
    FROM ranked
    GROUP BY ALL
)

FROM by_group
UNION ALL BY NAME
SELECT 'gain' AS part, * FROM recheck_gain
UNION ALL BY NAME
SELECT 'over' AS part, * FROM recheck_week
ORDER BY ALL
