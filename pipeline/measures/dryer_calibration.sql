-- Grain: one row per chamber.
-- Denominator: dose checks since the chamber's last service, changed part or move, up to the
-- run's day; line, drift and standing are those that corrections use (calibration_line), as last
-- known. Tolerance and errors leave blanks out; a day is within tolerance if every check is. Cycles with a recorded pressure and temperature
-- count for boiling_not_possible.
WITH served AS (
    SELECT
        site_id,
        dryer_id,
        count(*) AS service_events,
        max(occurred_on) AS last_served_on,
        string_agg(DISTINCT event, ';' ORDER BY event) FILTER (
            occurred_on = last_on
        ) AS last_service_event
    FROM (
        SELECT *, max(occurred_on) OVER (PARTITION BY site_id, dryer_id) AS last_on
        FROM dryer_event
        WHERE occurred_on <= getvariable('as_of')
    )
    GROUP BY ALL
),

used AS (
    SELECT c.*
    FROM dose_check AS c
    LEFT JOIN served AS s ON s.site_id = c.site_id AND s.dryer_id = c.dryer_id
    WHERE
        (s.last_served_on IS NULL OR c.local_date >= s.last_served_on)
        AND c.local_date <= getvariable('as_of')
),

chamber_day AS (
    SELECT
        site_id,
        dryer_id,
        local_date,
        bool_and(is_within_tolerance) AS is_within
    FROM used
    WHERE dose_ul > 0
    GROUP BY ALL
),

day_share AS (
    SELECT
        site_id,
        dryer_id,
        count(*) AS checked_days,
        count(*) FILTER (WHERE is_within) AS days_within
    FROM chamber_day
    GROUP BY ALL
),

checked AS (
    SELECT
        site_id,
        dryer_id,
        count(*) FILTER (dose_ul > 0) AS checks,
        count(*) FILTER (dose_ul = 0) AS blanks,
        round(avg(error_ul) FILTER (dose_ul > 0), 6) AS mean_error_ul,
        round(100 * avg(error_ul / dose_ul) FILTER (dose_ul > 0), 6) AS mean_error_pct,
        round(stddev_samp(error_ul) FILTER (dose_ul > 0), 6) AS error_sd_ul,
        round(avg(reading_ul) FILTER (dose_ul = 0), 6) AS blank_ul
    FROM used
    GROUP BY ALL
),

cycle AS (
    SELECT
        site_id,
        dryer_id,
        count(is_boiling_not_possible) AS cycles_with_pressure,
        count(*) FILTER (is_boiling_not_possible) AS cycles_boiling_not_possible
    FROM session
    WHERE treatment = 'dried'
    GROUP BY ALL
),

line AS (
    SELECT *
    FROM calibration_line
    WHERE known_from <= getvariable('as_of')
    QUALIFY row_number() OVER (PARTITION BY site_id, dryer_id ORDER BY known_from DESC) = 1
)

SELECT
    d.site_id,
    d.dryer_id,
    d.reading_principle,
    t.elevation_m,
    getvariable('as_of')::DATE AS counted_on,
    getvariable('as_of')::DATE - l.last_checked_on AS days_since_check,
    coalesce(c.checks, 0) AS checks,
    coalesce(c.blanks, 0) AS blanks,
    c.mean_error_ul,
    c.mean_error_pct,
    c.error_sd_ul,
    c.blank_ul,
    coalesce(s.checked_days, 0) AS checked_days,
    coalesce(s.days_within, 0) AS days_within,
    coalesce(l.doses, 0) AS doses,
    coalesce(l.checks_in_180_days, 0) AS checks_in_180_days,
    l.intercept_ul,
    l.slope,
    l.intercept_se_ul,
    l.slope_se,
    l.repeatability_sd_ul,
    l.drift_ewma,
    l.is_drifting,
    coalesce(l.is_stable, false) AS is_stable,
    l.last_checked_on,
    coalesce(e.service_events, 0) AS service_events,
    e.last_served_on,
    e.last_service_event,
    coalesce(y.cycles_with_pressure, 0) AS cycles_with_pressure,
    coalesce(y.cycles_boiling_not_possible, 0) AS cycles_boiling_not_possible,
    chamber_standing(
        getvariable('as_of')::DATE - l.last_checked_on, l.is_last_tolerated, l.is_stable,
        getvariable('dose_check_overdue_days')
    ) AS standing
FROM dryer AS d
LEFT JOIN site AS t ON t.site_id = d.site_id
LEFT JOIN checked AS c ON c.site_id = d.site_id AND c.dryer_id = d.dryer_id
LEFT JOIN day_share AS s ON s.site_id = d.site_id AND s.dryer_id = d.dryer_id
LEFT JOIN line AS l ON l.site_id = d.site_id AND l.dryer_id = d.dryer_id
LEFT JOIN served AS e ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id
LEFT JOIN cycle AS y ON y.site_id = d.site_id AND y.dryer_id = d.dryer_id
ORDER BY ALL
