-- Grain: one row per session row and chamber run that fits it, by session or by chamber and time.
-- Denominator: dried session rows of sites with a chamber log. A row that fits two runs, and a
-- run near the records of two wearers, cannot be told apart and are ambiguous.
WITH single_chamber AS (
    SELECT site_id, any_value(dryer_id) AS dryer_id
    FROM dryer
    GROUP BY site_id
    HAVING count(*) = 1
),
run AS (
    SELECT
        u.file_id AS run_file_id,
        u.line AS run_line,
        u.part_of_line AS run_part_of_line,
        u.site_id,
        u.dryer_id,
        u.session_id,
        u.started_at,
        u.match_window_minutes
    FROM live_chamber_runs AS u
),
record AS (
    SELECT
        p.file_id,
        p.line,
        p.part_of_line,
        p.site_id,
        coalesce(p.dryer_id, c.dryer_id) AS dryer_id,
        p.session_id,
        p.started_at,
        p.time_precision,
        coalesce(p.patient_id, strftime(p.started_at, '%Y-%m-%dT%H:%M:%SZ')) AS wearer
    FROM read_sessions AS p
    LEFT JOIN single_chamber AS c ON c.site_id = p.site_id
    WHERE
        coalesce(p.treatment, 'dried') = 'dried'
        AND p.site_id IN (SELECT site_id FROM run)
),
by_session AS (
    SELECT
        r.file_id, r.line, r.part_of_line, r.wearer,
        u.run_file_id, u.run_line, u.run_part_of_line, false AS is_by_time
    FROM record AS r
    JOIN run AS u ON u.site_id = r.site_id AND u.session_id = r.session_id
),
run_day AS (
    SELECT *, unnest([-1, 0, 1])::INTEGER + started_at::DATE AS day
    FROM run
    WHERE match_window_minutes IS NOT NULL
),
by_time AS (
    SELECT
        r.file_id, r.line, r.part_of_line, r.wearer,
        u.run_file_id, u.run_line, u.run_part_of_line, true AS is_by_time
    FROM record AS r
    JOIN run_day AS u
        ON u.site_id = r.site_id AND u.dryer_id = r.dryer_id AND u.day = r.started_at::DATE
        AND abs(epoch(u.started_at) - epoch(r.started_at)) <= 60 * u.match_window_minutes
    ANTI JOIN by_session AS b
        ON b.file_id = r.file_id AND b.line = r.line AND b.part_of_line = r.part_of_line
    WHERE
        r.time_precision = 'instant' AND (r.session_id IS NULL OR u.session_id IS NULL)
),
paired AS (
    SELECT * FROM by_session
    UNION ALL
    SELECT * FROM by_time
),
of_record AS (
    SELECT file_id, line, part_of_line, count(*) AS runs
    FROM paired
    GROUP BY file_id, line, part_of_line
),
of_run AS (
    SELECT run_file_id, run_line, run_part_of_line, count(DISTINCT wearer) AS wearers
    FROM paired
    WHERE is_by_time
    GROUP BY run_file_id, run_line, run_part_of_line
)
SELECT
    p.file_id,
    p.line,
    p.part_of_line,
    p.run_file_id,
    p.run_line,
    p.run_part_of_line,
    r.runs > 1 OR (p.is_by_time AND u.wearers > 1) AS is_ambiguous
FROM paired AS p
JOIN of_record AS r
    ON r.file_id = p.file_id AND r.line = p.line AND r.part_of_line = p.part_of_line
LEFT JOIN of_run AS u
    ON u.run_file_id = p.run_file_id AND u.run_line = p.run_line
    AND u.run_part_of_line = p.run_part_of_line
