-- Grain: one row per third of moisture and wearer, of dried aids.
-- Denominator: aids that stopped, or were measured before and after, dried alone and with a
-- reading, in thirds of their chamber's readings; readings below detection are the lowest, all
-- alike.
-- State: sums by moisture_third, cluster.
WITH ranked AS (
    SELECT
        wearer_cluster,
        measured_change,
        is_stopped,
        percent_rank() OVER (
            PARTITION BY site_id, dryer_id ORDER BY coalesce(moisture_per_aid_ul, 0)
        ) AS place
    FROM comparison_aid
    WHERE
        has_outcome AND arm = 1 AND is_alone AND is_complete
        AND (moisture_per_aid_ul IS NOT NULL OR is_below_detection)
)

SELECT
    CASE WHEN place < 1 / 3 THEN 'driest' WHEN place < 2 / 3 THEN 'middle' ELSE 'wettest' END
        AS moisture_third,
    hash(wearer_cluster) AS cluster,
    count(*) AS n,
    count(*) FILTER (WHERE is_stopped) AS stopped,
    count(*) FILTER (WHERE NOT is_stopped AND measured_change = 'improved') AS improved,
    count(*) FILTER (WHERE NOT is_stopped AND measured_change = 'worsened') AS worsened
FROM ranked
GROUP BY moisture_third, wearer_cluster
ORDER BY ALL
