-- Grain: one row per accepted session row: its keys, and these as numbers that link rows.
-- Denominator: the rows given. Rows that name no aid and no session are numbered by file and
-- start: those of one start go together.
-- Placeholder: rows, as session_row gives them.
SELECT
    file_id,
    line,
    part_of_line,
    site_id,
    session_key,
    device_id,
    wearer_key,
    local_date,
    wearer_link(site_id, wearer_key) AS wearer,
    session_link(site_id, session_key) AS session,
    CASE WHEN device_id IS NOT NULL THEN device_link(site_id, device_id) END AS device,
    CASE WHEN device_id IS NULL THEN start_link(site_id, started_at) END AS start
FROM ({rows})
