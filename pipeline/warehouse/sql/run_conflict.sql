-- Grain: one row per session row and column on which its record and the chamber's log differ.
-- Denominator: session rows joined to one run.
-- Placeholders: the columns of a load that a log tells, {names} their names, {found} and {logged}
-- as text at stored resolution.
WITH both_said AS (
    SELECT
        p.file_id,
        p.line,
        p.part_of_line,
        unnest(['dryer_id', {names}]) AS column_name,
        unnest([p.dryer_id, {found}]) AS found,
        unnest([u.dryer_id, {logged}]) AS logged
    FROM session_run AS s
    JOIN read_sessions AS p
        ON p.file_id = s.file_id AND p.line = s.line AND p.part_of_line = s.part_of_line
    JOIN live_chamber_runs AS u
        ON u.file_id = s.run_file_id AND u.line = s.run_line
        AND u.part_of_line = s.run_part_of_line
    WHERE NOT s.is_ambiguous
)
SELECT b.file_id, b.line, b.part_of_line, b.column_name, b.found
FROM both_said AS b
ANTI JOIN verdict_sessions AS v
    ON v.file_id = b.file_id AND v.line = b.line AND v.part_of_line = b.part_of_line
WHERE b.found <> b.logged
