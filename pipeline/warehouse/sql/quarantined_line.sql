-- Grain: one row per quarantined row of a session, with the session where its row tells it.
-- Denominator: rows that screening quarantined.
-- Placeholder: source, rows of table_name sessions among others.
WITH single_chamber AS (
    SELECT site_id, any_value(dryer_id) AS dryer_id
    FROM dryer
    GROUP BY site_id
    HAVING count(*) = 1
)
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
FROM {source} AS q
LEFT JOIN single_chamber AS c ON c.site_id = q.site_id
WHERE q.table_name = 'sessions'
