-- Grain: one row per programme, exposure, kind of load, whole minutes and end of cycle.
-- Denominator: runs of cycle_run.
-- State: sums of wearers by cycle_programme, exposed, load_kind, minutes, ended_by.
SELECT cycle_programme, exposed, load_kind, minutes, ended_by, count(*) AS n
FROM cycle_run
GROUP BY ALL
