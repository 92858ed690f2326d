-- Grain: one row per key of a wearer, a session, an aid or a start whose rows are to be written anew.
-- Denominator: of the sites of which some wearers are: rows that came or went, sessions with a
-- quarantined row that did; aids whose events changed; sessions since the first day on
-- which their chamber's line changed; aids with an episode that the site's last day may end or reopen.
WITH changed_session AS (
    SELECT site_id, session_key FROM changed_key
    UNION
    SELECT site_id, session_key FROM changed_quarantined WHERE session_key IS NOT NULL
),
away_before AS (
    SELECT site_id, device_id, occurred_on, event
    FROM service_event_before
    WHERE event IN ('sent_for_repair', 'replaced')
),
away_now AS (
    SELECT site_id, device_id, occurred_on, event
    FROM service_event
    SEMI JOIN touched_site USING (site_id)
    WHERE event IN ('sent_for_repair', 'replaced')
),
line_now AS (
    FROM calibration_line SEMI JOIN touched_site USING (site_id)
),
line_changed AS (
    SELECT site_id, dryer_id, min(known_from) AS since
    FROM (
        (FROM calibration_line_before EXCEPT FROM line_now)
        UNION ALL
        (FROM line_now EXCEPT FROM calibration_line_before)
    )
    GROUP BY site_id, dryer_id
),
-- The site's last day is not known before the new rows are judged: it lies between these two.
day_at_least AS (
    SELECT a.site_id, max(a.local_date) AS day
    FROM session_aid AS a
    SEMI JOIN touched_site AS t ON t.site_id = a.site_id
    ANTI JOIN removed_file AS f ON f.file_id = a.file_id
    ANTI JOIN changed_session AS c ON c.site_id = a.site_id AND c.session_key = a.session_key
    GROUP BY a.site_id
),
day_at_most AS (
    SELECT site_id, max(day) AS day
    FROM (
        SELECT a.site_id, a.local_date AS day
        FROM session_aid AS a
        SEMI JOIN touched_site AS t ON t.site_id = a.site_id
        ANTI JOIN removed_file AS f ON f.file_id = a.file_id
        UNION ALL
        SELECT site_id, local_date
        FROM changed_key
        WHERE is_added AND local_date <= getvariable('as_of') + 1
        UNION ALL
        SELECT u.site_id, u.local_date
        FROM uncounted_key AS u
        SEMI JOIN changed_session AS c ON c.site_id = u.site_id AND c.session_key = u.session_key
        WHERE u.local_date <= getvariable('as_of') + 1
        UNION ALL
        -- Where rows of a session differ on its start, one of them may lie on a later day.
        SELECT site_id, local_date FROM apart_row
    )
    GROUP BY site_id
)
SELECT wearer AS key FROM changed_key
UNION
SELECT session FROM changed_key
UNION
SELECT device FROM changed_key
UNION
SELECT start FROM changed_key
UNION
SELECT session_link(site_id, session_key) FROM changed_session
UNION
SELECT device_link(site_id, device_id)
FROM (
    (FROM away_before EXCEPT FROM away_now)
    UNION ALL
    (FROM away_now EXCEPT FROM away_before)
)
UNION
SELECT session_link(s.site_id, s.session_key)
FROM session AS s
JOIN line_changed AS c
    ON c.site_id = s.site_id AND c.dryer_id = s.dryer_id AND s.local_date >= c.since
UNION
SELECT device_link(e.site_id, e.device_id)
FROM episode AS e
JOIN day_at_most AS m ON m.site_id = e.site_id
LEFT JOIN day_at_least AS l ON l.site_id = e.site_id
WHERE
    (e.is_open AND e.ended_on + getvariable('episode_gap_days') < m.day)
    OR (
        e.ended_by_reason = 'gap'
        AND (l.day IS NULL OR e.ended_on + getvariable('episode_gap_days') >= l.day)
    )
