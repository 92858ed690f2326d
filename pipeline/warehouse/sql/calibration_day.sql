-- Grain: one row per chamber and day of a dose check or of a service, changed part or move,
-- numbered from 0.
-- Denominator: such days of the sites chosen; what is counted are checks with water since the
-- chamber's last service, changed part or move, up to that day.
WITH line_day AS (
    SELECT DISTINCT site_id, dryer_id, local_date AS known_from
    FROM calibration_check
    UNION
    SELECT site_id, dryer_id, occurred_on AS known_from
    FROM dryer_event
    WHERE list_contains($sites, site_id)
),

since AS (
    SELECT d.site_id, d.dryer_id, d.known_from, e.occurred_on AS served_on
    FROM line_day AS d
    ASOF LEFT JOIN (SELECT DISTINCT site_id, dryer_id, occurred_on FROM dryer_event) AS e
        ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id AND e.occurred_on <= d.known_from
),

check_day AS (
    SELECT
        site_id,
        dryer_id,
        served_on,
        local_date,
        sum(count(*)) OVER (
            PARTITION BY site_id, dryer_id, served_on ORDER BY local_date
        )::BIGINT AS checks
    FROM calibration_check
    WHERE dose_ul > 0
    GROUP BY site_id, dryer_id, served_on, local_date
)

SELECT
    row_number() OVER (ORDER BY s.site_id, s.dryer_id, s.known_from) - 1 AS day_number,
    s.site_id,
    s.dryer_id,
    s.known_from,
    s.served_on,
    c.local_date AS last_checked_on,
    coalesce(c.checks, 0) AS checks
FROM since AS s
ASOF LEFT JOIN check_day AS c
    ON c.site_id = s.site_id
    AND c.dryer_id = s.dryer_id
    AND coalesce(c.served_on, DATE '0001-01-01') = coalesce(s.served_on, DATE '0001-01-01')
    AND c.local_date <= s.known_from
ORDER BY day_number
