-- Grain: one row per programme and chamber.
-- Denominator: runs of cycle_run.
-- State: sums of wearers by cycle_programme, site_id, dryer_id.
SELECT cycle_programme, site_id, dryer_id, count(*) AS n
FROM cycle_run
GROUP BY ALL
