-- Grain: one row per aid and day on which it was dried, however often: what a visit count sees.
-- Denominator: dried aids, those outside the rates as well, since visit counts hold all. Condition
-- and reason are those of the day's first session; an aid without an id is its own.
WITH dried AS (
    SELECT
        site_id, month, local_date, device_id, condition_before, visit_reason,
        -- Cycle, line and part of the line, in this order, as one number.
        (coalesce(cycle_number, 1048575)::HUGEINT * 1099511627776 + line) * 65536 + part_of_line
            AS place
    FROM session_aid
    WHERE treatment = 'dried'
)

SELECT
    site_id,
    month,
    arg_min(condition_before, place) AS condition_before,
    arg_min(visit_reason, place) AS visit_reason
FROM dried
WHERE device_id IS NOT NULL
GROUP BY site_id, month, local_date, device_id
UNION ALL
SELECT site_id, month, condition_before, visit_reason
FROM dried
WHERE device_id IS NULL
