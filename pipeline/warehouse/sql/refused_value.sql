-- Grain: one row per value set to null in a row that is kept.
-- Denominator: values refused in screening, and columns on which a session's rows disagree.
WITH said AS (
    SELECT file_id, line, part_of_line, table_name, rule, column_name, found
    FROM part_refused
    UNION ALL
    SELECT file_id, line, part_of_line, 'sessions' AS table_name, 'session_agrees' AS rule, column_name, found
    FROM session_conflict
    UNION ALL
    SELECT file_id, line, part_of_line, 'sessions' AS table_name, 'log_agrees' AS rule, column_name, found
    FROM run_conflict
)
SELECT
    s.file_id,
    f.file,
    s.line,
    s.part_of_line,
    s.table_name,
    s.rule,
    coalesce(c.sentence, s.rule) AS sentence,
    s.column_name,
    s.found,
    c.advice
FROM said AS s
JOIN live_file AS f ON f.file_id = s.file_id AND f.table_name = s.table_name
LEFT JOIN contract_rule AS c
    ON c.table_name = s.table_name AND c.rule = s.rule AND c.column_name = s.column_name
