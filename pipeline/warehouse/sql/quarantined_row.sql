-- Grain: one row per (file, line, rule): a row that does not count, with the reason.
-- Denominator: rows quarantined in screening or by a set rule, and duplicates, of the live files.
WITH said AS (
    SELECT file_id, line, part_of_line, table_name, rule, column_name, found, row_json
    FROM part_quarantine
    WHERE is_listed
    UNION ALL
    SELECT file_id, line, part_of_line, table_name, rule, column_name, found, row_json
    FROM ({verdicts})
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
    c.advice,
    s.row_json,
    NULL::VARCHAR AS resolved_by_file_id
FROM said AS s
JOIN live_file AS f ON f.file_id = s.file_id AND f.table_name = s.table_name
LEFT JOIN contract_rule AS c
    ON c.table_name = s.table_name AND c.rule = s.rule
    AND c.column_name IS NOT DISTINCT FROM s.column_name
