-- Grain: one row per accepted session row, with its place as one number.
-- Denominator: every accepted row of the live sessions files.
SELECT p.*, f.place_at + p.line * 256 + p.part_of_line AS row_at
FROM part_sessions AS p
JOIN live_file AS f ON f.file_id = p.file_id AND f.table_name = 'sessions'
