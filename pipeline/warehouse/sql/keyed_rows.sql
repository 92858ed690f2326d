-- Grain: one row per accepted row of one table, with its key as text and its failed set rule.
-- Denominator: every accepted row of the live files of one table.
-- Placeholders: {table}, {key} the key as text, {rule} the first set rule that fails, or null.
SELECT p.file_id, p.line, p.part_of_line, {key} AS row_key, {rule} AS rule
FROM part_{table} AS p
