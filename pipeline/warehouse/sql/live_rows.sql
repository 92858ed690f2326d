-- Grain: one row per row read that does not count, with the reason.
-- A later version of a rolling file replaces its own rows by key, which is no conflict.
-- Denominator: every accepted row of the live files of one table.
-- Placeholders: {table} the part's name, {source} rows with file_id, line, part_of_line,
-- row_key and rule, {content} the row's content at stored resolution.
WITH judged AS (
    SELECT
        s.file_id, s.line, s.part_of_line, f.file_rank, f.file, f.is_rolling, s.row_key, s.rule
    FROM {source} AS s
    JOIN live_file AS f ON f.file_id = s.file_id AND f.table_name = '{table}'
),
shared_key AS (
    SELECT row_key
    FROM judged
    WHERE rule IS NULL
    GROUP BY row_key
    HAVING count(*) > 1
),
placed AS (
    SELECT
        j.file_id,
        j.line,
        j.part_of_line,
        j.row_key,
        j.file,
        j.is_rolling,
        row_number() OVER (
            PARTITION BY j.row_key ORDER BY j.file_rank DESC, j.line, j.part_of_line
        ) AS place
    FROM judged AS j
    JOIN shared_key AS k ON k.row_key = j.row_key
    WHERE j.rule IS NULL
),
content AS (
    SELECT d.file_id, d.line, d.part_of_line, d.row_key, d.place, d.file, d.is_rolling,
        {content} AS content
    FROM placed AS d
    JOIN part_{table} AS p ON p.file_id = d.file_id AND p.line = d.line AND p.part_of_line = d.part_of_line
),
duplicate AS (
    SELECT
        d.file_id,
        d.line,
        d.part_of_line,
        CASE
            WHEN d.content = newest.content OR (d.is_rolling AND d.file = newest.file)
                THEN 'duplicate'
            ELSE 'conflicting_duplicate'
        END AS rule
    FROM content AS d
    JOIN content AS newest ON newest.row_key = d.row_key AND newest.place = 1
    WHERE d.place > 1
)
SELECT file_id, line, part_of_line, rule FROM judged WHERE rule IS NOT NULL
UNION ALL
SELECT file_id, line, part_of_line, rule FROM duplicate
