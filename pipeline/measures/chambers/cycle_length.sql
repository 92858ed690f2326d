-- Grain: part 'loads': one row per programme, exposure, kind of load, whole minutes and end of
-- cycle; 'clusters': one row per programme, exposure and kind of load, with sums over wearers;
-- 'rescued' and 'returned_in_30_days': one row per condition, third of moisture and ten minutes,
-- with sums over wearers.
-- Denominator: loads: dried sessions. Aids: first cycles of problem aids dried alone, graded
-- after, inside the rates; returned: those that ended working and went back, of aids with an id,
-- with 30 days of data after.
-- State: whole, made from cycle_load, cycle_cluster, cycle_rescued and cycle_returned.
WITH stated AS (
    SELECT
        l.cycle_programme,
        CASE WHEN count(*) = count(d.stated_cycle_minutes) THEN max(d.stated_cycle_minutes) END
            AS stated_cycle_minutes
    FROM cycle_chamber AS l
    LEFT JOIN dryer AS d ON d.site_id = l.site_id AND d.dryer_id = l.dryer_id
    GROUP BY l.cycle_programme
)

SELECT
    'loads' AS part, l.cycle_programme, l.exposed, l.load_kind, NULL::VARCHAR AS condition_before,
    NULL::VARCHAR AS moisture_third, l.minutes, l.ended_by, s.stated_cycle_minutes,
    l.n, NULL::BIGINT AS k, NULL::BIGINT AS m, NULL::BIGINT AS nn, NULL::BIGINT AS yy,
    NULL::BIGINT AS yn, NULL::DOUBLE AS yyn
FROM cycle_load AS l
LEFT JOIN stated AS s ON s.cycle_programme IS NOT DISTINCT FROM l.cycle_programme
UNION ALL BY NAME
SELECT 'clusters' AS part, * REPLACE (yyn::DOUBLE AS yyn) FROM cycle_cluster
UNION ALL BY NAME
SELECT 'rescued' AS part, * REPLACE (yyn::DOUBLE AS yyn) FROM cycle_rescued
UNION ALL BY NAME
SELECT 'returned_in_30_days' AS part, * REPLACE (yyn::DOUBLE AS yyn) FROM cycle_returned
ORDER BY ALL
