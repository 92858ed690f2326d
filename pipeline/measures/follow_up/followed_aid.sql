-- Grain: one row per aid followed, and the kind of episode that it returned from.
-- Denominator: aids with an id and inside the rates, each with its first closed episode of a
-- problem that ended working and returned (or with no word where it went), and apart from that
-- with its first episode that began working. Serials that took each other's place are one aid.
-- event: 0 censored, 1 failed, 2 replaced, lost or retired.
-- closed: an aid's problems, and apart from these its episodes that began working, as one number.
WITH closed AS (
    SELECT
        e.episode_id,
        epoch_us(e.started_at_utc) AS moment,
        hash(e.site_id, coalesce(s.first_id, e.device_id), e.condition_before = 'normal') AS aid
    FROM episode AS e
    LEFT JOIN aid_serial AS s ON s.site_id = e.site_id AND s.device_id = e.device_id
    WHERE
        NOT e.is_outside_rates AND NOT e.is_open AND e.condition_after = 'normal'
        AND coalesce(e.disposition, 'unknown') IN ('returned_to_wearer', 'unknown')
),

first_moment AS (
    SELECT aid, min(moment) AS moment FROM closed GROUP BY aid
),

-- Of several that began at one moment, the first by its id.
first_closed AS (
    SELECT min(c.episode_id) AS episode_id
    FROM closed AS c
    SEMI JOIN first_moment AS f ON f.aid = c.aid AND f.moment = c.moment
    GROUP BY c.aid
),

returned AS (
    SELECT
        e.site_id,
        coalesce(s.first_id, e.device_id) AS aid_id,
        e.wearer_key,
        e.episode_id,
        e.condition_before,
        coalesce(e.exposure, 'not_recorded') AS exposure,
        e.started_at_utc,
        e.ended_on
    FROM episode AS e
    SEMI JOIN first_closed AS f ON f.episode_id = e.episode_id
    LEFT JOIN aid_serial AS s ON s.site_id = e.site_id AND s.device_id = e.device_id
),

happened AS (
    SELECT
        a.site_id,
        coalesce(s.first_id, a.device_id) AS aid_id,
        a.local_date AS day,
        a.started_at_utc,
        a.episode_id,
        CASE
            WHEN a.condition_before_drying <> 'normal' OR a.disposition = 'sent_for_repair' THEN 1
            ELSE 2
        END AS event
    FROM session_aid AS a
    LEFT JOIN aid_serial AS s ON s.site_id = a.site_id AND s.device_id = a.device_id
    WHERE
        a.device_id IS NOT NULL
        AND (a.condition_before_drying <> 'normal' OR a.disposition IN ('sent_for_repair', 'replaced'))
    UNION ALL
    SELECT
        v.site_id,
        coalesce(s.first_id, v.device_id) AS aid_id,
        v.occurred_on AS day,
        NULL::TIMESTAMPTZ AS started_at_utc,
        NULL::VARCHAR AS episode_id,
        CASE WHEN v.event IN ('replaced', 'lost', 'retired') THEN 2 ELSE 1 END AS event
    FROM service_event AS v
    LEFT JOIN aid_serial AS s ON s.site_id = v.site_id AND s.device_id = v.device_id
    WHERE
        v.event IN (
            'failed_again', 'sent_for_repair', 'receiver_replaced', 'replaced', 'lost', 'retired'
        )
),

first_event AS (
    SELECT r.episode_id, min(h.day) AS day, arg_min(h.event, (h.day, h.event)) AS event
    FROM returned AS r
    INNER JOIN happened AS h ON h.site_id = r.site_id AND h.aid_id = r.aid_id
    WHERE
        h.day >= r.ended_on AND h.episode_id IS DISTINCT FROM r.episode_id
        AND coalesce(h.started_at_utc > r.started_at_utc, true)
    GROUP BY r.episode_id
),

site_end AS (
    SELECT site_id, max(local_date) AS last_day FROM session GROUP BY site_id
),

aid_end AS (
    SELECT d.site_id, coalesce(s.first_id, d.device_id) AS aid_id, max(d.last_local_date) AS last_day
    FROM device AS d
    LEFT JOIN aid_serial AS s ON s.site_id = d.site_id AND s.device_id = d.device_id
    GROUP BY ALL
),

wearer_end AS (
    SELECT wearer_key, max(last_local_date) AS last_day FROM device GROUP BY wearer_key
)

SELECT
    r.wearer_key,
    r.condition_before,
    r.exposure,
    CASE WHEN f.day <= e.last_day THEN f.event ELSE 0 END AS event,
    least(coalesce(f.day, e.last_day), e.last_day) - r.ended_on AS days_to_end,
    CASE
        WHEN f.day <= e.last_day THEN f.day
        ELSE greatest(coalesce(w.last_day, r.ended_on), r.ended_on)
    END - r.ended_on AS days_to_contact,
    coalesce(a.last_day > r.ended_on, false) AS is_seen_again
FROM returned AS r
INNER JOIN site_end AS e ON e.site_id = r.site_id
LEFT JOIN first_event AS f ON f.episode_id = r.episode_id
LEFT JOIN aid_end AS a ON a.site_id = r.site_id AND a.aid_id = r.aid_id
LEFT JOIN wearer_end AS w ON w.wearer_key = r.wearer_key
