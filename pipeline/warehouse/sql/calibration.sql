-- Grain: one row per chamber and day from which a calibration line is known.
-- Denominator: dose checks since the chamber's last service, changed part or move, up to that
-- day; the line needs five non-blank checks at two or more doses within 180 days and a slope
-- between a half and two. Sums of doubles differ in their last digits from run to run, so what
-- is fitted is rounded to a millionth.
WITH line_day AS (
    SELECT DISTINCT site_id, dryer_id, local_date AS known_from FROM dose_check
    UNION
    SELECT site_id, dryer_id, occurred_on AS known_from FROM dryer_event
),
line_start AS (
    SELECT d.site_id, d.dryer_id, d.known_from, max(e.occurred_on) AS served_on
    FROM line_day AS d
    LEFT JOIN dryer_event AS e
        ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id AND e.occurred_on <= d.known_from
    GROUP BY d.site_id, d.dryer_id, d.known_from
),
check_used AS (
    SELECT
        s.site_id,
        s.dryer_id,
        s.known_from,
        c.local_date,
        c.checked_at_utc,
        c.replicate,
        c.dose_ul,
        c.reading_ul,
        c.is_within_tolerance,
        c.local_date > s.known_from - 180 AS is_recent
    FROM line_start AS s
    LEFT JOIN dose_check AS c
        ON c.site_id = s.site_id
        AND c.dryer_id = s.dryer_id
        AND c.local_date <= s.known_from
        AND (s.served_on IS NULL OR c.local_date >= s.served_on)
),
first_check AS (
    SELECT site_id, dryer_id, min(local_date) AS first_checked_on
    FROM dose_check
    GROUP BY site_id, dryer_id
),
fitted AS (
    SELECT
        site_id,
        dryer_id,
        known_from,
        max(local_date) AS last_checked_on,
        max_by(is_within_tolerance, (checked_at_utc, replicate)) FILTER (
            WHERE dose_ul > 0
        ) AS last_is_tolerated,
        count(*) FILTER (WHERE dose_ul > 0 AND is_recent) AS checks,
        count(DISTINCT dose_ul) FILTER (WHERE dose_ul > 0 AND is_recent) AS doses,
        round(regr_intercept(reading_ul, dose_ul) FILTER (WHERE is_recent), 6) AS intercept_ul,
        round(regr_slope(reading_ul, dose_ul) FILTER (WHERE is_recent), 6) AS slope,
        min(dose_ul) FILTER (WHERE is_recent) AS lowest_dose_ul,
        max(dose_ul) FILTER (WHERE is_recent) AS highest_dose_ul,
        avg(reading_ul) FILTER (WHERE dose_ul = 0 AND is_recent) AS blank_ul,
        stddev_samp(reading_ul) FILTER (WHERE dose_ul = 0 AND is_recent) AS blank_sd_ul
    FROM check_used
    GROUP BY site_id, dryer_id, known_from
)
SELECT
    f.site_id,
    f.dryer_id,
    f.known_from,
    coalesce(c.first_checked_on <= f.known_from, false) AS is_ever_checked,
    last_checked_on,
    last_is_tolerated,
    coalesce(checks >= 5 AND doses >= 2 AND slope BETWEEN 0.5 AND 2, false) AS is_stable,
    intercept_ul,
    slope,
    lowest_dose_ul,
    highest_dose_ul,
    round(blank_ul + 3 * blank_sd_ul, 6) AS blank_limit_ul
FROM fitted AS f
LEFT JOIN first_check AS c ON c.site_id = f.site_id AND c.dryer_id = f.dryer_id
