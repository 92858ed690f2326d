-- Grain: one row per aid and day on which it was dried, however often: what a visit count sees.
-- Denominator: dried aids, those outside the rates as well, since visit counts hold all. Condition
-- and reason are those of the day's first session; an aid without an id is its own.
SELECT
    site_id,
    month,
    arg_min(condition_before, (cycle_number, line, part_of_line)) AS condition_before,
    arg_min(visit_reason, (cycle_number, line, part_of_line)) AS visit_reason
FROM session_aid
WHERE treatment = 'dried'
GROUP BY
    site_id, month, local_date,
    coalesce(device_id, concat_ws(' ', file_id, line, part_of_line))
