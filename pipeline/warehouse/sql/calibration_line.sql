-- Grain: one row per chamber and day of a dose check or of a service, changed part or move.
-- Denominator: dose checks since the chamber's last service, changed part or move, up to that
-- day; a day is tolerated if every check with water is, and a blank is no check. The line takes
-- those of the 180 days before, blanks as dose 0, each weighted by 1/(σ² + b²·u²): σ from five or
-- more repeated readings, else from the plain line; b from the plain line; u the deviation of the
-- dose. Fewer repeats may agree by chance, above all where readings are rounded, and a steady
-- chamber would seem to drift. Sums of doubles differ in their last digits from run to run, so
-- what is fitted is rounded to a millionth.
WITH line_day AS (
    SELECT DISTINCT site_id, dryer_id, local_date AS known_from
    FROM dose_check
    WHERE in_scope(site_id)
    UNION
    SELECT site_id, dryer_id, occurred_on AS known_from
    FROM dryer_event
    WHERE in_scope(site_id)
),

line_start AS (
    SELECT d.site_id, d.dryer_id, d.known_from, e.occurred_on AS served_on
    FROM line_day AS d
    ASOF LEFT JOIN (SELECT DISTINCT site_id, dryer_id, occurred_on FROM dryer_event) AS e
        ON e.site_id = d.site_id AND e.dryer_id = d.dryer_id AND e.occurred_on <= d.known_from
),

check_day AS (
    SELECT
        site_id,
        dryer_id,
        local_date,
        bool_and(is_within_tolerance) AS is_within
    FROM dose_check
    WHERE dose_ul > 0
    GROUP BY ALL
),

last_check AS (
    SELECT
        s.*,
        CASE WHEN s.served_on IS NULL OR l.local_date >= s.served_on THEN l.local_date END
            AS last_checked_on,
        CASE WHEN s.served_on IS NULL OR l.local_date >= s.served_on THEN l.is_within END
            AS is_last_tolerated
    FROM line_start AS s
    ASOF LEFT JOIN check_day AS l
        ON l.site_id = s.site_id AND l.dryer_id = s.dryer_id AND l.local_date <= s.known_from
),

used AS (
    SELECT
        s.site_id,
        s.dryer_id,
        s.known_from,
        c.local_date,
        c.checked_at_utc,
        c.replicate,
        c.dose_ul,
        c.reading_ul,
        coalesce(c.dose_uncertainty_pct, 0) / 100 * c.dose_ul AS dose_sd_ul
    FROM line_start AS s
    INNER JOIN dose_check AS c
        ON c.site_id = s.site_id
        AND c.dryer_id = s.dryer_id
        AND c.local_date <= s.known_from
        AND c.local_date > s.known_from - 180
        AND (s.served_on IS NULL OR c.local_date >= s.served_on)
),

repeated AS (
    SELECT
        site_id,
        dryer_id,
        known_from,
        sum(readings - 1) AS repeats,
        sum(squares) / sum(readings - 1) AS variance
    FROM (
        SELECT
            site_id,
            dryer_id,
            known_from,
            count(*) AS readings,
            var_samp(reading_ul) * (readings - 1) AS squares
        FROM used
        WHERE dose_ul > 0
        GROUP BY site_id, dryer_id, known_from, local_date, dose_ul
        HAVING readings > 1
    )
    GROUP BY ALL
),

plain_line AS (
    SELECT
        site_id,
        dryer_id,
        known_from,
        regr_slope(reading_ul, dose_ul) AS slope,
        greatest(regr_syy(reading_ul, dose_ul)
            - regr_slope(reading_ul, dose_ul) * regr_sxy(reading_ul, dose_ul), 0)
        / nullif(count(*) - 2, 0) AS variance
    FROM used
    GROUP BY ALL
    HAVING count(DISTINCT dose_ul) > 1
),

weighed AS (
    SELECT
        u.*,
        CASE WHEN r.repeats >= 5 THEN r.variance ELSE p.variance END AS scatter,
        1 / greatest(coalesce(scatter, 0) + (p.slope * u.dose_sd_ul) ** 2, 1e-4) AS weight
    FROM used AS u
    INNER JOIN plain_line AS p
        ON p.site_id = u.site_id AND p.dryer_id = u.dryer_id AND p.known_from = u.known_from
    LEFT JOIN repeated AS r
        ON r.site_id = u.site_id AND r.dryer_id = u.dryer_id AND r.known_from = u.known_from
),

middle AS (
    SELECT
        site_id,
        dryer_id,
        known_from,
        sum(weight) AS weights,
        sum(weight * dose_ul) / sum(weight) AS mean_dose,
        sum(weight * reading_ul) / sum(weight) AS mean_reading
    FROM weighed
    GROUP BY ALL
),

line AS (
    SELECT
        w.site_id,
        w.dryer_id,
        w.known_from,
        any_value(m.weights) AS weights,
        any_value(m.mean_dose) AS mean_dose,
        sum(w.weight * (w.dose_ul - m.mean_dose) ** 2) AS spread,
        sum(w.weight * (w.dose_ul - m.mean_dose) * (w.reading_ul - m.mean_reading))
        / nullif(spread, 0) AS slope,
        any_value(m.mean_reading) - slope * any_value(m.mean_dose) AS intercept_ul
    FROM weighed AS w
    INNER JOIN middle AS m
        ON m.site_id = w.site_id AND m.dryer_id = w.dryer_id AND m.known_from = w.known_from
    GROUP BY ALL
),

off_line AS (
    SELECT
        w.site_id,
        w.dryer_id,
        w.known_from,
        greatest(
            sum(w.weight * (w.reading_ul - l.intercept_ul - l.slope * w.dose_ul) ** 2)
            / nullif(count(*) - 2, 0),
            1
        ) AS inflation,
        ewma_score(
            list(
                (w.reading_ul - l.intercept_ul - l.slope * w.dose_ul) * sqrt(w.weight)
                ORDER BY w.checked_at_utc, w.replicate
            ) FILTER (w.dose_ul > 0),
            0.2
        ) AS drift_ewma
    FROM weighed AS w
    INNER JOIN line AS l
        ON l.site_id = w.site_id AND l.dryer_id = w.dryer_id AND l.known_from = w.known_from
    GROUP BY ALL
),

counted AS (
    SELECT
        site_id,
        dryer_id,
        known_from,
        count(*) FILTER (dose_ul > 0) AS checks_in_180_days,
        count(DISTINCT dose_ul) FILTER (dose_ul > 0) AS doses,
        min(dose_ul) AS lowest_dose_ul,
        max(dose_ul) AS highest_dose_ul,
        avg(reading_ul) FILTER (dose_ul = 0) AS blank_ul,
        stddev_samp(reading_ul) FILTER (dose_ul = 0) AS blank_sd_ul
    FROM used
    GROUP BY ALL
),

fitted AS (
    SELECT
        s.site_id,
        s.dryer_id,
        s.known_from,
        s.served_on,
        s.last_checked_on,
        s.is_last_tolerated,
        coalesce(n.checks_in_180_days, 0) AS checks_in_180_days,
        coalesce(n.doses, 0) AS doses,
        round(l.intercept_ul, 6) AS intercept_ul,
        round(l.slope, 6) AS slope,
        round(sqrt(o.inflation * (1 / l.weights + l.mean_dose ** 2 / l.spread)), 6)
            AS intercept_se_ul,
        round(sqrt(o.inflation / l.spread), 6) AS slope_se,
        round(-l.mean_dose / sqrt(l.spread / l.weights + l.mean_dose ** 2), 6)
            AS intercept_slope_correlation,
        round(sqrt(r.variance), 6) AS repeatability_sd_ul,
        round(o.drift_ewma, 6) AS drift_ewma,
        CASE WHEN n.checks_in_180_days >= 5 THEN abs(round(o.drift_ewma, 6)) > 3 END AS is_drifting,
        n.lowest_dose_ul,
        n.highest_dose_ul,
        round(n.blank_ul + 3 * n.blank_sd_ul, 6) AS blank_limit_ul
    FROM last_check AS s
    LEFT JOIN counted AS n
        ON n.site_id = s.site_id AND n.dryer_id = s.dryer_id AND n.known_from = s.known_from
    LEFT JOIN line AS l
        ON l.site_id = s.site_id AND l.dryer_id = s.dryer_id AND l.known_from = s.known_from
    LEFT JOIN off_line AS o
        ON o.site_id = s.site_id AND o.dryer_id = s.dryer_id AND o.known_from = s.known_from
    LEFT JOIN repeated AS r
        ON r.site_id = s.site_id AND r.dryer_id = s.dryer_id AND r.known_from = s.known_from
)

SELECT
    *,
    coalesce(
        checks_in_180_days >= 5 AND doses >= 2 AND slope BETWEEN 0.5 AND 2 AND NOT is_drifting,
        false
    ) AS is_stable
FROM fitted
