-- Grain: one row per session: rows read for it, rows that count.
-- Denominator: every row read for a session, quarantined ones too; earlier versions of a row
-- (duplicates) are not another aid.
WITH single_chamber AS (
    SELECT site_id, any_value(dryer_id) AS dryer_id
    FROM dryer
    GROUP BY site_id
    HAVING count(*) = 1
),
quarantined_line AS (
    SELECT DISTINCT
        q.file_id,
        q.line,
        q.part_of_line,
        q.site_id,
        CASE
            WHEN q.session_id IS NOT NULL THEN q.session_id
            WHEN
                coalesce(q.treatment, 'dried') = 'dried'
                AND q.time_precision = 'instant'
                AND coalesce(q.dryer_id, c.dryer_id) IS NOT NULL
                THEN
                    coalesce(q.dryer_id, c.dryer_id)
                    || ' ' || strftime(q.started_at, '%Y-%m-%dT%H:%M:%SZ')
        END AS session_key
    FROM part_quarantine AS q
    LEFT JOIN single_chamber AS c ON c.site_id = q.site_id
    WHERE q.table_name = 'sessions'
),
row_counted AS (
    SELECT r.site_id, r.session_key, v.rule IS NULL AS is_live
    FROM session_row AS r
    LEFT JOIN verdict_sessions AS v ON v.file_id = r.file_id AND v.line = r.line AND v.part_of_line = r.part_of_line
    WHERE v.rule IS NULL OR NOT is_duplicate(v.rule)
    UNION ALL
    SELECT site_id, session_key, false AS is_live
    FROM quarantined_line
    WHERE session_key IS NOT NULL
)
SELECT
    row_number() OVER () AS session_at,
    site_id,
    session_key,
    count(*) AS aids_in_chamber,
    count_if(is_live) AS aids_counted
FROM row_counted
GROUP BY site_id, session_key
HAVING count_if(is_live) > 0
