-- Grain: one row per basis, aids in the load, group (cell) and detection limit.
-- Denominator: the loads of moisture_load that are used and have a limit.
-- State: sums of wearers by is_corrected, aids, cell, limit_hundredths_ul.
WITH counted AS (
    SELECT
        is_corrected, aids, limit_hundredths_ul,
        grouping_id({moisture_group}) AS grouping_id,
        {moisture_group},
        count(*) AS loads
    FROM moisture_load
    WHERE is_corrected AND limit_hundredths_ul IS NOT NULL
    GROUP BY
        is_corrected, aids, limit_hundredths_ul,
        {moisture_grouping_sets}
    UNION ALL BY NAME
    SELECT
        is_corrected, aids, limit_hundredths_ul,
        510 AS grouping_id,
        site_id,
        count(*) AS loads
    FROM moisture_load
    WHERE NOT is_corrected AND limit_hundredths_ul IS NOT NULL
    GROUP BY is_corrected, aids, limit_hundredths_ul, site_id
)

SELECT
    is_corrected,
    aids,
    hash(grouping_id, {moisture_group}) AS cell,
    limit_hundredths_ul,
    loads
FROM counted
ORDER BY ALL
