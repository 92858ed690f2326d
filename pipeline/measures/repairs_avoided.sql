-- Grain: part 'days': one row per site, condition, warranty, days from the return to a repair,
-- replacement, loss or retirement (91: none in 90 days) and whether it was seen; 'sessions': one
-- row per site, condition and warranty; 'wearers': one row per pattern of wearers and cell of it,
-- days put together by tens.
-- Denominator: closed episodes of aids inside the rates that began dead or weak. Days: those that
-- ended working and returned, not within 90 days of such an episode before; a serial and the one
-- that took its place are one aid. Sessions: the dried sessions of all of them.
WITH first_session AS (
    SELECT episode_id, is_order_recorded, device_age_months, fitted_on, local_date
    FROM session_aid
    WHERE cycle_number = 1 AND condition_before_drying IN ('dead', 'weak')
),

warranty_event AS (
    SELECT site_id, device_id, occurred_on, bool_or(in_warranty) AS in_warranty
    FROM service_event
    WHERE in_warranty IS NOT NULL
    GROUP BY ALL
),

problem AS (
    SELECT
        e.site_id,
        e.episode_id,
        e.device_id,
        e.wearer_key,
        e.condition_before AS condition,
        e.started_on,
        e.started_at_utc,
        e.ended_on,
        f.is_order_recorded,
        e.condition_after = 'normal' AND e.disposition = 'returned_to_wearer' AS is_rescued,
        -- Only what was known on the day of the return: later events come to aids that fail.
        CASE
            coalesce(
                coalesce(f.device_age_months, (f.local_date - f.fitted_on) / 30.4375)
                < getvariable('costs_warranty_months'),
                CASE WHEN w.occurred_on > e.ended_on - 365 OR NOT w.in_warranty THEN w.in_warranty END
            )
            WHEN true THEN 'in'
            WHEN false THEN 'out'
            ELSE 'not_known'
        END AS warranty
    FROM episode AS e
    INNER JOIN first_session AS f ON f.episode_id = e.episode_id
    ASOF LEFT JOIN warranty_event AS w
        ON w.site_id = e.site_id AND w.device_id = e.device_id AND w.occurred_on <= e.ended_on
    WHERE
        NOT e.is_outside_rates AND NOT e.is_open AND e.condition_before IN ('dead', 'weak')
),

rescued AS (
    SELECT p.*, coalesce(s.first_id, p.device_id) AS aid_id
    FROM problem AS p
    LEFT JOIN aid_serial AS s ON s.site_id = p.site_id AND s.device_id = p.device_id
    WHERE p.is_rescued
    QUALIFY
        coalesce(
            p.ended_on - lag(p.ended_on) OVER (
                PARTITION BY p.site_id, aid_id ORDER BY p.started_at_utc, p.episode_id
            ) > 90,
            true
        )
),

happened AS (
    SELECT
        v.site_id, coalesce(s.first_id, v.device_id) AS aid_id, v.occurred_on AS day,
        NULL::VARCHAR AS episode_id
    FROM service_event AS v
    LEFT JOIN aid_serial AS s ON s.site_id = v.site_id AND s.device_id = v.device_id
    WHERE v.event IN ('sent_for_repair', 'receiver_replaced', 'replaced', 'lost', 'retired')
    UNION ALL
    SELECT
        a.site_id, coalesce(s.first_id, a.device_id) AS aid_id, a.local_date AS day, a.episode_id
    FROM session_aid AS a
    LEFT JOIN aid_serial AS s ON s.site_id = a.site_id AND s.device_id = a.device_id
    WHERE a.device_id IS NOT NULL AND a.disposition IN ('sent_for_repair', 'replaced')
),

first_need AS (
    SELECT r.episode_id, min(h.day) AS day
    FROM rescued AS r
    INNER JOIN happened AS h ON h.site_id = r.site_id AND h.aid_id = r.aid_id
    WHERE h.day BETWEEN r.ended_on AND r.ended_on + 90 AND h.episode_id IS DISTINCT FROM r.episode_id
    GROUP BY r.episode_id
),

site_end AS (
    SELECT site_id, max(local_date) AS last_day FROM session GROUP BY site_id
),

followed AS (
    SELECT
        r.site_id,
        r.wearer_key,
        r.condition,
        r.warranty,
        r.is_order_recorded,
        coalesce(n.day <= e.last_day, false)::BIGINT AS event,
        least(coalesce(n.day, e.last_day), e.last_day) - r.ended_on AS days
    FROM rescued AS r
    INNER JOIN site_end AS e ON e.site_id = r.site_id
    LEFT JOIN first_need AS n ON n.episode_id = r.episode_id
),

dried AS (
    SELECT
        p.site_id,
        p.wearer_key,
        p.condition,
        p.warranty,
        1 / a.aids_in_chamber AS runs,
        a.cycle_minutes / a.aids_in_chamber AS minutes
    FROM problem AS p
    INNER JOIN session_aid AS a ON a.episode_id = p.episode_id
    WHERE p.is_order_recorded
),

wearer_cell AS (
    SELECT
        wearer_key, site_id, condition, warranty, 'days' AS what,
        CASE WHEN days > 90 THEN 9 ELSE least(days, 89) // 10 END AS days, event
    FROM followed
    WHERE is_order_recorded
    UNION ALL
    SELECT wearer_key, site_id, condition, warranty, 'sessions' AS what, 0 AS days, 0 AS event
    FROM dried
),

by_wearer AS (
    SELECT
        wearer_key,
        list_sort(list({
            'site_id': site_id, 'condition': condition, 'warranty': warranty, 'what': what,
            'days': days, 'event': event
        })) AS pattern
    FROM wearer_cell
    GROUP BY wearer_key
),

by_pattern AS (
    SELECT pattern, count(*) AS wearers, row_number() OVER (ORDER BY pattern) - 1 AS number
    FROM by_wearer
    GROUP BY pattern
),

pattern_cell AS (
    SELECT number, wearers, unnest(pattern) AS cell FROM by_pattern
)

SELECT
    'days' AS part,
    NULL AS number,
    NULL AS wearers,
    site_id,
    condition,
    warranty,
    NULL AS what,
    least(days, 91) AS days,
    CASE WHEN days <= 90 THEN event ELSE 0 END AS event,
    count_if(is_order_recorded)::BIGINT AS n,
    count_if(NOT is_order_recorded)::BIGINT AS left_out,
    NULL AS runs,
    NULL AS minutes
FROM followed
GROUP BY ALL
UNION ALL
SELECT
    'sessions', NULL, NULL, site_id, condition, warranty, NULL, NULL, NULL, count(*), 0,
    sum(runs::DECIMAL(18, 6))::DOUBLE,
    count(*) * (sum(minutes::DECIMAL(18, 6))::DOUBLE / count(minutes))
FROM dried
GROUP BY ALL
UNION ALL
SELECT
    'wearers', number, wearers, cell.site_id, cell.condition, cell.warranty, cell.what, cell.days,
    cell.event, count(*), 0, NULL, NULL
FROM pattern_cell
GROUP BY ALL
ORDER BY ALL
