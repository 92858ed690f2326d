-- Grain: one row per basis, aids in the load (0: one and two together), grouping and group.
-- Denominator: the loads used by moisture_distribution; a load of two wearers belongs to one of
-- them. n loads of m wearers and Σn² over wearers. Of a load at or under a limit above the middle
-- reading nobody knows on which side it lies; of the n_known others, y counts a wearer's at or under
-- the middle: from them at the grouping 'all' comes the correlation that its basis borrows.
-- State: sums of wearers by is_corrected, aids, cell, grouping_id.
-- Three counts to one number, 40 bits each: n, n_known and y. Apart, the query takes 1.3 times as
-- long on 780 000 aids.
WITH packed AS (
    SELECT
        l.*,
        CASE
            WHEN l.value_hundredths_ul <= m.middle_hundredths_ul THEN 1 + (1::HUGEINT << 40) + (1::HUGEINT << 80)
            WHEN l.below THEN 1
            ELSE 1 + (1::HUGEINT << 40)
        END AS counts
    FROM moisture_load AS l
    INNER JOIN moisture_middle AS m ON m.is_corrected = l.is_corrected AND m.aids = l.aids
    WHERE l.value_hundredths_ul IS NOT NULL
),

per_wearer AS (
    SELECT
        is_corrected,
        wearer,
        grouping_id({moisture_group}) AS grouping_id,
        {moisture_group},
        sum(counts) FILTER (aids = 1) AS of_one,
        sum(counts) FILTER (aids = 2) AS of_two
    FROM packed
    WHERE is_corrected
    GROUP BY
        is_corrected, wearer,
        {moisture_grouping_sets}
    UNION ALL BY NAME
    SELECT
        is_corrected,
        wearer,
        CASE WHEN grouping(site_id) = 0 THEN 510 ELSE 511 END AS grouping_id,
        site_id,
        sum(counts) FILTER (aids = 1) AS of_one,
        sum(counts) FILTER (aids = 2) AS of_two
    FROM packed
    WHERE NOT is_corrected
    GROUP BY is_corrected, wearer, GROUPING SETS ((), (site_id))
),

-- Wearers with the same counts in the same group are alike: one row, and how many they are.
alike AS (
    SELECT * EXCLUDE (wearer), count(*) AS wearers
    FROM per_wearer
    GROUP BY ALL
),

by_aids AS (
    SELECT
        * EXCLUDE (counts),
        (counts & 1099511627775)::BIGINT AS n,
        ((counts >> 40) & 1099511627775)::BIGINT AS n_known,
        (counts >> 80)::BIGINT AS y
    FROM (
        SELECT
            * EXCLUDE (of_one, of_two),
            unnest([0, 1, 2]) AS aids,
            unnest([coalesce(of_one, 0) + coalesce(of_two, 0), of_one, of_two]) AS counts
        FROM alike
    )
    WHERE counts IS NOT NULL
)

SELECT
    is_corrected,
    aids,
    hash(grouping_id, {moisture_group}) AS cell,
    grouping_id,
    sum(wearers * n)::BIGINT AS n,
    sum(wearers)::BIGINT AS m,
    sum(wearers * n * n)::BIGINT AS nn,
    sum(wearers * n_known)::BIGINT AS n_known,
    coalesce(sum(wearers) FILTER (n_known > 0), 0)::BIGINT AS m_known,
    sum(wearers * n_known * n_known)::BIGINT AS nn_known,
    sum(wearers * y)::BIGINT AS k,
    sum(wearers * y * y)::BIGINT AS yy,
    sum(wearers * n_known * y)::BIGINT AS yn,
    coalesce(sum(wearers * (y * y / nullif(n_known, 0))::DECIMAL(18, 9)), 0) AS yyn
FROM by_aids
GROUP BY ALL
ORDER BY ALL
