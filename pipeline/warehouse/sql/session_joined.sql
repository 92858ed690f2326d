-- Grain: one row per accepted session row, with what the log of its chamber says of the run.
-- Denominator: every accepted row of the live sessions files. Where log and record both hold a
-- value, the log's counts; where they differ, the record's is listed as refused.
-- Placeholder: {logged} the columns of a load that a log tells, but for its water.
SELECT
    p.* REPLACE (
        coalesce(p.session_id, u.session_id) AS session_id,
        coalesce(u.dryer_id, p.dryer_id) AS dryer_id,
        coalesce(u.started_at, p.started_at) AS started_at,
        coalesce(u.local_date, p.local_date) AS local_date,
        coalesce(u.time_precision, p.time_precision) AS time_precision,
        {logged},
        CASE
            WHEN u.moisture_ul IS NOT NULL OR u.is_moisture_below_detection IS NOT NULL
                THEN u.moisture_ul
            ELSE p.moisture_ul
        END AS moisture_ul,
        CASE
            WHEN u.moisture_ul IS NOT NULL OR u.is_moisture_below_detection IS NOT NULL
                THEN u.is_moisture_below_detection
            ELSE p.is_moisture_below_detection
        END AS is_moisture_below_detection
    )
FROM read_sessions AS p
LEFT JOIN session_run AS s
    ON s.file_id = p.file_id AND s.line = p.line AND s.part_of_line = p.part_of_line
    AND NOT s.is_ambiguous
LEFT JOIN live_chamber_runs AS u
    ON u.file_id = s.run_file_id AND u.line = s.run_line
    AND u.part_of_line = s.run_part_of_line
