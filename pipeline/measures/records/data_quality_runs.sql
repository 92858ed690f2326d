-- Grain: one row per site, month and check of the chambers' own records of their runs.
-- Denominator: named beside each check.
-- State: of site.
WITH wide AS (
    SELECT
        site_id,
        date_trunc('month', local_date)::DATE AS month,
        count(*) FILTER (WHERE run_class = 'no_aid_recorded') AS n_runs_without_aid_record,
        count(*) AS d_runs_without_aid_record
    FROM chamber_run
    GROUP BY ALL
),

{quality_long}
