-- Grain: one row per run of a chamber's log that counts.
-- Denominator: accepted runs of the live files that are the newest version of their key.
WITH fitted AS (
    SELECT
        run_file_id,
        run_line,
        run_part_of_line,
        count_if(NOT is_ambiguous) AS aids_recorded,
        count_if(is_ambiguous) AS aids_ambiguous
    FROM session_run
    GROUP BY run_file_id, run_line, run_part_of_line
)
SELECT
    u.*,
    u.started_at AS started_at_utc,
    CASE
        WHEN f.aids_recorded > 0 THEN 'aid_recorded'
        WHEN f.aids_ambiguous > 0 THEN 'ambiguous'
        ELSE 'no_aid_recorded'
    END AS run_class,
    coalesce(f.aids_recorded, 0) AS aids_recorded
FROM live_chamber_runs AS u
LEFT JOIN fitted AS f
    ON f.run_file_id = u.file_id AND f.run_line = u.line
    AND f.run_part_of_line = u.part_of_line
