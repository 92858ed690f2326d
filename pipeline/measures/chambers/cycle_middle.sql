-- Grain: one row per programme, exposure and kind of load: the middle of the minutes to dry, the lower
-- of two.
-- Denominator: runs of cycle_load that ended dry.
-- State: whole, made from cycle_load.
WITH summed AS (
    SELECT
        cycle_programme,
        exposed,
        load_kind,
        minutes,
        sum(n) OVER (PARTITION BY cycle_programme, exposed, load_kind) AS all_n,
        sum(n) OVER (PARTITION BY cycle_programme, exposed, load_kind ORDER BY minutes) AS up_to
    FROM cycle_load
    WHERE ended_by = 'dry'
)

SELECT cycle_programme, exposed, load_kind, min(minutes) AS middle_minutes
FROM summed
WHERE 2 * up_to >= all_n
GROUP BY ALL
