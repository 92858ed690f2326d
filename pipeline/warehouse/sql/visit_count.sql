-- Grain: one row per clinic, month and reason.
-- Denominator: visit counts that count.
SELECT
    p.site_id,
    p.month,
    p.visit_reason,
    p.aids_seen,
    p.dead_seen,
    p.weak_seen,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_visit_counts AS p
