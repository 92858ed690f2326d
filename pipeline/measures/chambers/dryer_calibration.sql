-- Grain: one row per chamber.
-- Denominator: dose checks since the chamber's last service, changed part or move, up to the day
-- it is counted on: the run's, or of a chamber removed before that the day of its removal. Line,
-- verdicts and standing are those that corrections use (calibration_line), as last known; the
-- standing is reckoned once more on the site's last day with data. Tolerance and errors leave
-- blanks out; a day is within tolerance if every check is. Cycles with a recorded pressure and
-- temperature count for boiling_not_possible; the pump's are those since the last service, of the
-- 90 days up to the last day with data.
-- State: of site.
WITH site_day AS (
    SELECT site_id, max(local_date) AS last_day
    FROM (
        SELECT site_id, local_date FROM session
        UNION ALL
        SELECT site_id, local_date FROM dose_check
    )
    GROUP BY site_id
),

chamber AS (
    SELECT
        d.site_id,
        d.dryer_id,
        d.reading_principle,
        t.elevation_m,
        CASE WHEN d.removed_on < getvariable('as_of') THEN d.removed_on END AS removed_on,
        least(getvariable('as_of')::DATE, d.removed_on) AS counted_on,
        least(getvariable('as_of')::DATE, d.removed_on, s.last_day) AS last_loaded_on
    FROM dryer AS d
    LEFT JOIN site AS t ON t.site_id = d.site_id
    LEFT JOIN site_day AS s ON s.site_id = d.site_id
),

served AS (
    SELECT
        site_id,
        dryer_id,
        count(*) AS service_events,
        max(occurred_on) AS last_served_on,
        string_agg(DISTINCT event, ';' ORDER BY event) FILTER (
            occurred_on = last_on
        ) AS last_service_event
    FROM (
        SELECT e.*, max(e.occurred_on) OVER (PARTITION BY e.site_id, e.dryer_id) AS last_on
        FROM dryer_event AS e
        INNER JOIN chamber AS d ON d.site_id = e.site_id AND d.dryer_id = e.dryer_id
        WHERE e.occurred_on <= d.counted_on
    )
    GROUP BY ALL
),

used AS (
    SELECT c.*
    FROM dose_check AS c
    INNER JOIN chamber AS d ON d.site_id = c.site_id AND d.dryer_id = c.dryer_id
    LEFT JOIN served AS s ON s.site_id = c.site_id AND s.dryer_id = c.dryer_id
    WHERE
        (s.last_served_on IS NULL OR c.local_date >= s.last_served_on)
        AND c.local_date <= d.counted_on
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
        y.site_id,
        y.dryer_id,
        count(y.is_boiling_not_possible) AS cycles_with_pressure,
        count(*) FILTER (y.is_boiling_not_possible) AS cycles_boiling_not_possible,
        count(y.is_boiling_not_possible) FILTER (
            y.local_date > d.last_loaded_on - 90 AND y.local_date <= d.last_loaded_on
            AND (e.last_served_on IS NULL OR y.local_date > e.last_served_on)
        ) AS pump_cycles,
        count(*) FILTER (
            y.is_boiling_not_possible
            AND y.local_date > d.last_loaded_on - 90 AND y.local_date <= d.last_loaded_on
            AND (e.last_served_on IS NULL OR y.local_date > e.last_served_on)
        ) AS pump_cycles_short
    FROM session AS y
    INNER JOIN chamber AS d ON d.site_id = y.site_id AND d.dryer_id = y.dryer_id
    LEFT JOIN served AS e ON e.site_id = y.site_id AND e.dryer_id = y.dryer_id
    WHERE y.treatment = 'dried'
    GROUP BY y.site_id, y.dryer_id
)

SELECT
    d.site_id,
    d.dryer_id,
    d.reading_principle,
    d.elevation_m,
    d.removed_on,
    d.counted_on,
    d.last_loaded_on,
    d.counted_on - l.last_checked_on AS days_since_check,
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
    coalesce(l.bias, 'not_recorded') AS bias,
    coalesce(l.scatter, 'not_recorded') AS scatter,
    coalesce(l.drift, 'not_recorded') AS drift,
    coalesce(l.checked_days_in_180, 0) AS checked_days_in_180,
    l.mean_error_tolerances,
    l.mean_error_low_tolerances,
    l.mean_error_high_tolerances,
    l.scatter_sd_tolerances,
    l.scatter_sd_low_tolerances,
    l.half_year_drift_tolerances,
    l.half_year_drift_low_tolerances,
    l.half_year_drift_high_tolerances,
    l.corrected_error_rms_tolerances,
    coalesce(l.is_applied, false) AS is_applied,
    l.last_checked_on,
    coalesce(e.service_events, 0) AS service_events,
    e.last_served_on,
    e.last_service_event,
    coalesce(y.cycles_with_pressure, 0) AS cycles_with_pressure,
    coalesce(y.cycles_boiling_not_possible, 0) AS cycles_boiling_not_possible,
    coalesce(y.pump_cycles, 0) AS pump_cycles,
    coalesce(y.pump_cycles_short, 0) AS pump_cycles_short,
    chamber_standing(
        d.counted_on - l.last_checked_on, l.standing, getvariable('dose_check_overdue_days')
    ) AS standing,
    l.reading_standing,
    chamber_standing(
        d.last_loaded_on - p.last_checked_on, p.standing, getvariable('dose_check_overdue_days')
    ) AS standing_when_last_loaded
FROM chamber AS d
ASOF LEFT JOIN calibration_line AS l
    ON l.site_id = d.site_id AND l.dryer_id = d.dryer_id AND l.known_from <= d.counted_on
ASOF LEFT JOIN calibration_line AS p
    ON p.site_id = d.site_id AND p.dryer_id = d.dryer_id AND p.known_from <= d.last_loaded_on
LEFT JOIN checked AS c ON c.site_id = d.site_id AND c.dryer_id = d.dryer_id
LEFT JOIN day_share AS s ON s.site_id = d.site_id AND s.dryer_id = d.dryer_id
LEFT JOIN served AS e ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id
LEFT JOIN cycle AS y ON y.site_id = d.site_id AND y.dryer_id = d.dryer_id
ORDER BY ALL
