-- Grain: one row per chamber.
-- Denominator: dose checks since the chamber's last service, changed part or move; the line and
-- its drift from those in the 180 days before the day of reckoning, which is the last day of which
-- the group has any session or check. Tolerance and errors leave blanks out.
WITH reckoned AS (
    SELECT greatest(
        (SELECT max(local_date) FROM session), (SELECT max(local_date) FROM dose_check)
    ) AS counted_on
),

served AS (
    SELECT site_id, dryer_id, max(occurred_on) AS served_on FROM dryer_event GROUP BY ALL
),

used AS (
    SELECT
        c.*,
        r.counted_on,
        c.local_date > r.counted_on - 180 AS is_recent,
        coalesce(c.dose_uncertainty_pct, 0) / 100 * c.dose_ul AS dose_sd_ul
    FROM dose_check AS c
    CROSS JOIN reckoned AS r
    LEFT JOIN served AS s ON s.site_id = c.site_id AND s.dryer_id = c.dryer_id
    WHERE s.served_on IS NULL OR c.local_date >= s.served_on
),

chamber_day AS (
    SELECT
        site_id,
        dryer_id,
        local_date,
        max_by(is_within_tolerance, (checked_at_utc, replicate)) AS is_within
    FROM used
    WHERE dose_ul > 0
    GROUP BY ALL
),

day_share AS (
    SELECT
        site_id,
        dryer_id,
        count(*) AS checked_days,
        count(*) FILTER (WHERE is_within) AS days_within,
        max_by(is_within, local_date) AS is_last_within
    FROM chamber_day
    GROUP BY ALL
),

repeated AS (
    SELECT site_id, dryer_id, sum(squares) AS squares, sum(readings - 1) AS freedom
    FROM (
        SELECT
            site_id,
            dryer_id,
            count(*) AS readings,
            var_samp(reading_ul) * (readings - 1) AS squares
        FROM used
        WHERE dose_ul > 0
        GROUP BY site_id, dryer_id, local_date, dose_ul
        HAVING readings > 1
    )
    GROUP BY ALL
),

plain_line AS (
    SELECT
        site_id,
        dryer_id,
        regr_slope(reading_ul, dose_ul) AS slope,
        regr_intercept(reading_ul, dose_ul) AS intercept,
        sqrt(greatest(regr_syy(reading_ul, dose_ul)
            - regr_slope(reading_ul, dose_ul) * regr_sxy(reading_ul, dose_ul), 0)
            / nullif(count(*) - 2, 0)) AS residual_sd
    FROM used
    WHERE is_recent
    GROUP BY ALL
    HAVING count(DISTINCT dose_ul) > 1
),

weighed AS (
    SELECT
        u.*,
        1 / greatest(
            coalesce(r.squares / nullif(r.freedom, 0), p.residual_sd ** 2, 0)
            + (p.slope * u.dose_sd_ul) ** 2,
            1e-4
        ) AS weight
    FROM used AS u
    INNER JOIN plain_line AS p ON p.site_id = u.site_id AND p.dryer_id = u.dryer_id
    LEFT JOIN repeated AS r ON r.site_id = u.site_id AND r.dryer_id = u.dryer_id
    WHERE u.is_recent
),

line AS (
    SELECT
        site_id,
        dryer_id,
        sum(weight * dose_ul) / sum(weight) AS mean_dose,
        sum(weight * reading_ul) / sum(weight) AS mean_reading,
        (sum(weight * dose_ul * reading_ul) - mean_dose * mean_reading * sum(weight))
        / nullif(sum(weight * dose_ul ** 2) - mean_dose ** 2 * sum(weight), 0) AS slope,
        mean_reading - slope * mean_dose AS intercept_ul
    FROM weighed
    GROUP BY ALL
),

residual AS (
    SELECT
        w.site_id,
        w.dryer_id,
        (w.reading_ul - l.intercept_ul - l.slope * w.dose_ul) * sqrt(w.weight) AS off_line,
        row_number() OVER (
            PARTITION BY w.site_id, w.dryer_id ORDER BY w.checked_at_utc DESC, w.replicate DESC
        ) AS back
    FROM weighed AS w
    INNER JOIN line AS l ON l.site_id = w.site_id AND l.dryer_id = w.dryer_id
    WHERE w.dose_ul > 0
),

drift AS (
    -- Moving average with weight 0.2 on the newest, over its own standard error at that count.
    SELECT
        site_id,
        dryer_id,
        sum(0.2 * 0.8 ** (back - 1) * off_line)
        / sqrt(0.2 / 1.8 * (1 - 0.8 ** (2 * count(*)))) AS drift_ewma
    FROM residual
    GROUP BY ALL
)

SELECT
    d.site_id,
    d.dryer_id,
    r.counted_on,
    count(u.dose_ul) FILTER (WHERE u.dose_ul > 0) AS checks,
    count(DISTINCT u.dose_ul) FILTER (WHERE u.dose_ul > 0 AND u.is_recent) AS doses,
    count(u.dose_ul) FILTER (WHERE u.dose_ul > 0 AND u.is_recent) AS checks_in_180_days,
    count(u.dose_ul) FILTER (WHERE u.dose_ul = 0) AS blanks,
    round(avg(u.error_ul) FILTER (WHERE u.dose_ul > 0), 6) AS mean_error_ul,
    round(100 * avg(u.error_ul / u.dose_ul) FILTER (WHERE u.dose_ul > 0), 6) AS mean_error_pct,
    round(stddev_samp(u.error_ul) FILTER (WHERE u.dose_ul > 0), 6) AS error_sd_ul,
    round(avg(u.reading_ul) FILTER (WHERE u.dose_ul = 0), 6) AS blank_ul,
    max(u.local_date) AS last_checked_on,
    any_value(s.checked_days) AS checked_days,
    any_value(s.days_within) AS days_within,
    any_value(s.is_last_within) AS is_last_within,
    round(any_value(sqrt(e.squares / nullif(e.freedom, 0))), 6) AS repeatability_sd_ul,
    round(any_value(l.intercept_ul), 6) AS intercept_ul,
    round(any_value(l.slope), 6) AS slope,
    round(any_value(f.drift_ewma), 6) AS drift_ewma,
    (
        SELECT count(*) FROM dose_check AS c
        WHERE c.site_id = d.site_id AND c.dryer_id = d.dryer_id
    ) AS checks_ever
FROM dryer AS d
CROSS JOIN reckoned AS r
LEFT JOIN used AS u ON u.site_id = d.site_id AND u.dryer_id = d.dryer_id
LEFT JOIN day_share AS s ON s.site_id = d.site_id AND s.dryer_id = d.dryer_id
LEFT JOIN repeated AS e ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id
LEFT JOIN line AS l ON l.site_id = d.site_id AND l.dryer_id = d.dryer_id
LEFT JOIN drift AS f ON f.site_id = d.site_id AND f.dryer_id = d.dryer_id
WHERE r.counted_on IS NOT NULL
GROUP BY d.site_id, d.dryer_id, r.counted_on
ORDER BY ALL
