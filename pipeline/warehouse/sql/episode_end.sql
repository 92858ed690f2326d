-- Grain: one row per episode: when it ended and why, or that it is open.
-- Denominator: episodes of aids with an id. Open: no return, repair, replacement or new exposure
-- after its last session, and the site's last loaded day lies within the gap.
WITH last_row AS (
    SELECT
        episode_id,
        site_id,
        device_id,
        episode_number,
        max(local_date) AS ended_on,
        arg_max(file_id, cycle_number) AS file_id,
        arg_max(line, cycle_number) AS line,
        arg_max(part_of_line, cycle_number) AS part_of_line
    FROM episode_row
    GROUP BY episode_id, site_id, device_id, episode_number
),
next_start AS (
    SELECT site_id, device_id, episode_number - 1 AS episode_number, parted_by
    FROM episode_row
    WHERE cycle_number = 1 AND episode_number > 1
),
site_end AS (
    SELECT site_id, max(local_date) AS last_date
    FROM (
        SELECT r.site_id, r.local_date
        FROM session_row AS r
        ANTI JOIN verdict_sessions AS v
            ON v.file_id = r.file_id AND v.line = r.line AND v.part_of_line = r.part_of_line
        UNION ALL
        -- Rows that stay as they are in a copy of the published warehouse.
        SELECT site_id, local_date FROM staying_day
    )
    GROUP BY site_id
),
sent_away AS (
    SELECT site_id, device_id, occurred_on, min(event) AS event
    FROM service_event
    WHERE event IN ('sent_for_repair', 'replaced')
    GROUP BY site_id, device_id, occurred_on
),
-- Few aids were ever sent away: only theirs are searched by day.
event_after AS (
    SELECT l.episode_id, e.occurred_on, e.event
    FROM (
        FROM last_row
        SEMI JOIN sent_away USING (site_id, device_id)
    ) AS l
    ASOF JOIN sent_away AS e
        ON e.site_id = l.site_id AND e.device_id = l.device_id AND e.occurred_on >= l.ended_on
),
reason_known AS (
    SELECT
        l.episode_id,
        l.ended_on,
        p.disposition,
        CASE
            WHEN n.parted_by IS NOT NULL THEN n.parted_by
            WHEN p.disposition IN ('returned_to_wearer', 'sent_for_repair', 'replaced')
                THEN p.disposition
            WHEN e.occurred_on <= l.ended_on + getvariable('episode_gap_days') THEN e.event
            WHEN s.last_date > l.ended_on + getvariable('episode_gap_days') THEN 'gap'
        END AS ended_by_reason
    FROM last_row AS l
    JOIN part_sessions AS p ON p.file_id = l.file_id AND p.line = l.line AND p.part_of_line = l.part_of_line
    JOIN site_end AS s ON s.site_id = l.site_id
    LEFT JOIN next_start AS n
        ON n.site_id = l.site_id
        AND n.device_id = l.device_id
        AND n.episode_number = l.episode_number
    LEFT JOIN event_after AS e ON e.episode_id = l.episode_id
)
SELECT
    episode_id,
    ended_on,
    disposition,
    ended_by_reason,
    ended_by_reason IS NULL AS is_open
FROM reason_known
