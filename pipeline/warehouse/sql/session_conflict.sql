-- Grain: one row per row that counts and column of its session on which the rows disagree.
-- Denominator: sessions with two or more rows that count. Only those of which any rows differ are
-- taken apart.
-- Placeholders: the columns of a load, {read} of its rows, {names} their names, {values} as text.
WITH own_row AS (
    SELECT
        p.file_id,
        p.line,
        p.part_of_line,
        r.site_id,
        r.session_key,
        r.dryer_id,
        r.started_at,
        {read}
    FROM live_row AS r
    JOIN session_reading AS s ON s.session_at = r.session_at AND s.is_disagreed
    JOIN placed_sessions AS p ON p.row_at = r.row_at
),
named_value AS (
    SELECT
        file_id,
        line,
        part_of_line,
        site_id,
        session_key,
        unnest(['dryer_id', 'started_at', {names}]) AS column_name,
        unnest([dryer_id, strftime(started_at, '%Y-%m-%dT%H:%M:%SZ'), {values}]) AS found
    FROM own_row
),
disagreed AS (
    SELECT site_id, session_key, column_name
    FROM named_value
    GROUP BY site_id, session_key, column_name
    HAVING min(found) <> max(found)
)
SELECT n.file_id, n.line, n.part_of_line, n.column_name, n.found
FROM named_value AS n
JOIN disagreed AS d
    ON d.site_id = n.site_id AND d.session_key = n.session_key AND d.column_name = n.column_name
WHERE n.found IS NOT NULL
