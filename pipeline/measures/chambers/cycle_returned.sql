-- Grain: one row per condition before drying, third of moisture and ten minutes, with sums over
-- wearers: n aids, k of them back with a trouble within 30 days.
-- Denominator: aids of cycle_placed that ended working and went back, with an id and 30 days of
-- data after. The site's last day decides which aids those are.
-- State: sums by condition_before, moisture_third, minutes.
WITH site_end AS (
    SELECT site_id, max(local_date) AS last_day FROM session GROUP BY site_id
),

went_back AS (
    SELECT p.*
    FROM cycle_placed AS p
    INNER JOIN site_end AS e ON e.site_id = p.site_id
    WHERE
        p.condition_after = 'normal' AND p.device_id IS NOT NULL
        AND coalesce(p.disposition, 'unknown') IN ('returned_to_wearer', 'unknown')
        AND p.local_date + 30 <= e.last_day
),

trouble AS (
    SELECT a.site_id, a.device_id, a.local_date AS day
    FROM session_aid AS a
    SEMI JOIN went_back AS p ON p.site_id = a.site_id AND p.device_id = a.device_id
    WHERE a.condition_before_drying <> 'normal'
    UNION ALL
    SELECT site_id, device_id, occurred_on AS day
    FROM service_event
    WHERE event IN ('failed_again', 'sent_for_repair', 'receiver_replaced')
),

came_again AS (
    SELECT DISTINCT p.site_id, p.device_id, p.local_date
    FROM went_back AS p
    INNER JOIN trouble AS t ON t.site_id = p.site_id AND t.device_id = p.device_id
    WHERE t.day > p.local_date AND t.day <= p.local_date + 30
),

wearer AS (
    SELECT
        p.condition_before, p.moisture_third, p.minutes, p.wearer_key, count(*) AS n,
        count(c.device_id) AS y
    FROM went_back AS p
    LEFT JOIN came_again AS c
        ON c.site_id = p.site_id AND c.device_id = p.device_id AND c.local_date = p.local_date
    GROUP BY ALL
)

SELECT condition_before, moisture_third, minutes, {cycle_sums}
FROM wearer
GROUP BY ALL
