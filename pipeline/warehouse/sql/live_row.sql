-- Grain: one row per session row that counts, by its place and the place of its session.
-- Denominator: accepted session rows without a verdict.
SELECT
    f.place_at + r.line * 256 + r.part_of_line AS row_at,
    l.session_at,
    l.aids_in_chamber,
    l.aids_counted,
    r.site_id,
    r.session_key,
    r.device_id,
    r.device_key,
    r.wearer_key,
    r.treatment,
    r.dryer_id,
    r.started_at,
    r.local_date,
    r.exposure,
    r.disposition,
    r.condition_after,
    r.hours_at_most
FROM session_row AS r
JOIN live_file AS f ON f.file_id = r.file_id AND f.table_name = 'sessions'
ANTI JOIN verdict_sessions AS v
    ON v.file_id = r.file_id AND v.line = r.line AND v.part_of_line = r.part_of_line
JOIN session_load AS l ON l.site_id = r.site_id AND l.session_key = r.session_key
