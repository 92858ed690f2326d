-- Grain: part 'rate': one row per fate of a problem (rescued, not rescued, only cleaned), site (null:
-- all), condition and warranty ('all': every one), with sums over wearers of aids followed 90 days
-- (n) and of those sent on within them (y); 'count': one row per site, condition and warranty with
-- the rescues counted; 'people': their wearers per group; 'sessions': the drying sessions.
-- Denominator: closed episodes of aids inside the rates that began dead or weak after cleaning. Rescued:
-- ended working and returned. Not rescued: ended assessed and not working. Of one fate an aid counts
-- again only after 90 days; a serial and the one that took its place are one aid. Sent on: the first
-- of repair, replacement, loss and retirement within 90 days is a repair or a replacement. Sessions:
-- the dried sessions of all these problems.
-- State: sums by part, fate, site_id, condition, warranty.
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
        e.started_at_utc,
        e.ended_on,
        f.is_order_recorded,
        CASE
            WHEN e.condition_after = 'normal' AND e.disposition = 'returned_to_wearer' THEN 'rescued'
            WHEN e.condition_after <> 'normal' THEN 'not_rescued'
        END AS fate,
        -- Only what was known before: an event of the day itself comes to aids that are sent on.
        CASE
            coalesce(
                coalesce(f.device_age_months, (f.local_date - f.fitted_on) / 30.4375)
                < getvariable('costs_warranty_months'),
                CASE WHEN w.occurred_on > e.started_on - 365 OR NOT w.in_warranty THEN w.in_warranty END
            )
            WHEN true THEN 'in'
            WHEN false THEN 'out'
            ELSE 'not_known'
        END AS warranty
    FROM episode AS e
    INNER JOIN first_session AS f ON f.episode_id = e.episode_id
    ASOF LEFT JOIN warranty_event AS w
        ON w.site_id = e.site_id AND w.device_id = e.device_id AND w.occurred_on < e.started_on
    WHERE
        NOT e.is_outside_rates AND NOT e.is_open AND e.condition_before IN ('dead', 'weak')
),

counted AS (
    SELECT p.*, coalesce(s.first_id, p.device_id) AS aid_id
    FROM problem AS p
    LEFT JOIN aid_serial AS s ON s.site_id = p.site_id AND s.device_id = p.device_id
    WHERE p.fate IS NOT NULL
    QUALIFY
        coalesce(
            p.ended_on - lag(p.ended_on) OVER (
                PARTITION BY p.site_id, aid_id, p.fate ORDER BY p.started_at_utc, p.episode_id
            ) > 90,
            true
        )
),

happened AS (
    SELECT
        v.site_id, coalesce(s.first_id, v.device_id) AS aid_id, v.occurred_on AS day,
        v.event NOT IN ('lost', 'retired') AS is_sent_on,
        NULL::VARCHAR AS episode_id
    FROM service_event AS v
    LEFT JOIN aid_serial AS s ON s.site_id = v.site_id AND s.device_id = v.device_id
    WHERE v.event IN ('sent_for_repair', 'receiver_replaced', 'replaced', 'lost', 'retired')
    UNION ALL
    SELECT
        a.site_id, coalesce(s.first_id, a.device_id) AS aid_id, a.local_date AS day,
        true AS is_sent_on, a.episode_id
    FROM session_aid AS a
    LEFT JOIN aid_serial AS s ON s.site_id = a.site_id AND s.device_id = a.device_id
    WHERE a.device_id IS NOT NULL AND a.disposition IN ('sent_for_repair', 'replaced')
),

-- An aid not rescued may be sent on at the visit itself; one rescued and returned was not.
first_event AS (
    SELECT c.episode_id, arg_min(h.is_sent_on, (h.day, NOT h.is_sent_on)) AS is_sent_on
    FROM counted AS c
    INNER JOIN happened AS h ON h.site_id = c.site_id AND h.aid_id = c.aid_id
    WHERE
        h.day BETWEEN c.ended_on AND c.ended_on + 90
        AND (c.fate = 'not_rescued' OR h.episode_id IS DISTINCT FROM c.episode_id)
    GROUP BY c.episode_id
),

site_end AS (
    SELECT site_id, max(local_date) AS last_day FROM session GROUP BY site_id
),

followed AS (
    SELECT
        c.fate, c.site_id, c.condition, c.warranty, c.wearer_key,
        coalesce(f.is_sent_on, false)::BIGINT AS y
    FROM counted AS c
    INNER JOIN site_end AS e ON e.site_id = c.site_id
    LEFT JOIN first_event AS f ON f.episode_id = c.episode_id
    WHERE c.is_order_recorded AND c.ended_on + 90 <= e.last_day
    UNION ALL
    SELECT
        'only_cleaned' AS fate, site_id, condition_before_drying, 'not_known', wearer_key,
        (condition_after = 'normal')::BIGINT
    FROM session_aid
    WHERE
        treatment = 'cleaned_only' AND NOT is_outside_rates AND is_order_recorded
        AND condition_before_drying IN ('dead', 'weak') AND condition_after IS NOT NULL
),

by_wearer AS (
    SELECT
        fate, site_id, condition, coalesce(warranty, 'all') AS warranty,
        count(*) AS n, sum(y)::BIGINT AS y
    FROM followed
    GROUP BY
        wearer_key,
        GROUPING SETS (
            (fate, condition), (fate, condition, site_id), (fate, condition, warranty),
            (fate, condition, site_id, warranty)
        )
),

rescue AS (
    SELECT * FROM counted WHERE fate = 'rescued'
),

dried AS (
    SELECT
        p.site_id, p.condition, p.warranty,
        1 / a.aids_in_chamber AS runs,
        a.cycle_minutes / a.aids_in_chamber AS minutes
    FROM problem AS p
    INNER JOIN session_aid AS a ON a.episode_id = p.episode_id
    WHERE p.is_order_recorded
)

SELECT
    'rate' AS part,
    fate,
    site_id,
    condition,
    warranty,
    sum(n)::BIGINT AS n,
    sum(y)::BIGINT AS y,
    count(*) AS wearers,
    sum(n * n)::BIGINT AS sum_nn,
    sum(y * y)::BIGINT AS sum_yy,
    sum(n * y)::BIGINT AS sum_ny,
    sum((y * y / n)::DECIMAL(18, 6)) AS sum_yy_per_n,
    NULL::BIGINT AS left_out,
    NULL::DECIMAL(38, 6) AS runs,
    NULL::DECIMAL(38, 6) AS minutes,
    NULL::BIGINT AS with_minutes
FROM by_wearer
GROUP BY fate, site_id, condition, warranty
UNION ALL BY NAME
SELECT
    'count' AS part, site_id, condition, warranty, count_if(is_order_recorded)::BIGINT AS n,
    count_if(NOT is_order_recorded)::BIGINT AS left_out
FROM rescue
GROUP BY ALL
UNION ALL BY NAME
SELECT
    'people' AS part, site_id, condition, coalesce(warranty, 'all') AS warranty,
    count(DISTINCT wearer_key) AS wearers
FROM rescue
WHERE is_order_recorded
GROUP BY
    GROUPING SETS (
        (), (site_id), (condition), (warranty), (site_id, warranty), (condition, warranty)
    )
UNION ALL BY NAME
SELECT
    'sessions' AS part, site_id, condition, warranty, count(*) AS n,
    sum(runs::DECIMAL(18, 6)) AS runs,
    coalesce(sum(minutes::DECIMAL(18, 6)), 0) AS minutes, count(minutes) AS with_minutes
FROM dried
GROUP BY ALL
ORDER BY ALL
