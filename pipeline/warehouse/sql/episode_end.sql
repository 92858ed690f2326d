-- Grain: one row per episode: when it ended and why, or that it is open.
-- Denominator: episodes of aids with an id. Open: no return, repair, replacement or new exposure
-- after its last session, and the site's last loaded day lies within the gap.
WITH summed AS (
    SELECT
        episode_at,
        count(*) AS cycles,
        max(local_date) AS ended_on,
        arg_max(condition_after, cycle_number) FILTER (
            WHERE condition_after IS NOT NULL
        ) AS condition_after
    FROM episode_row
    WHERE NOT is_last OR cycle_number > 1
    GROUP BY episode_at
),
last_row AS (
    SELECT
        r.episode_at,
        r.site_id,
        r.device_id,
        r.disposition,
        r.next_parted_by,
        coalesce(s.cycles, 1) AS cycles,
        coalesce(s.ended_on, r.local_date) AS ended_on,
        CASE WHEN s.cycles IS NULL THEN r.condition_after ELSE s.condition_after END
            AS condition_after
    FROM episode_row AS r
    LEFT JOIN summed AS s ON s.episode_at = r.episode_at
    WHERE r.is_last
),
site_end AS (
    SELECT site_id, max(local_date) AS last_date
    FROM live_row
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
    SELECT l.episode_at, e.occurred_on, e.event
    FROM (
        FROM last_row
        SEMI JOIN sent_away USING (site_id, device_id)
    ) AS l
    ASOF JOIN sent_away AS e
        ON e.site_id = l.site_id AND e.device_id = l.device_id AND e.occurred_on >= l.ended_on
),
reason_known AS (
    SELECT
        l.*,
        CASE
            WHEN l.next_parted_by IS NOT NULL THEN l.next_parted_by
            WHEN l.disposition IN ('returned_to_wearer', 'sent_for_repair', 'replaced')
                THEN l.disposition
            WHEN e.occurred_on <= l.ended_on + getvariable('episode_gap_days') THEN e.event
            WHEN s.last_date > l.ended_on + getvariable('episode_gap_days') THEN 'gap'
        END AS ended_by_reason
    FROM last_row AS l
    JOIN site_end AS s ON s.site_id = l.site_id
    LEFT JOIN event_after AS e ON e.episode_at = l.episode_at
)
SELECT
    episode_at,
    cycles,
    ended_on,
    disposition,
    condition_after,
    ended_by_reason,
    ended_by_reason IS NULL AS is_open
FROM reason_known
