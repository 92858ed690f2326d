-- Grain: one row per programme, exposure and kind of load, with sums over wearers: n runs, k of them
-- dry by the middle minutes.
-- Denominator: runs of cycle_run whose end is known.
-- State: sums of wearers by cycle_programme, exposed, load_kind.
WITH wearer AS (
    SELECT
        l.cycle_programme, l.exposed, l.load_kind, l.wearer_key,
        count(*) AS n,
        count_if(l.ended_by = 'dry' AND l.minutes <= m.middle_minutes) AS y
    FROM cycle_run AS l
    LEFT JOIN cycle_middle AS m
        ON m.cycle_programme IS NOT DISTINCT FROM l.cycle_programme
        AND m.exposed = l.exposed AND m.load_kind = l.load_kind
    WHERE l.ended_by IS NOT NULL
    GROUP BY ALL
)

SELECT cycle_programme, exposed, load_kind, {cycle_sums}
FROM wearer
GROUP BY ALL
