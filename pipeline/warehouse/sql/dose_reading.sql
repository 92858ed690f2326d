-- Grain: one row per chamber and dose of water (to a tenth of a microlitre).
-- Denominator: days with a dose check of the 180 days up to the day the chamber is counted on,
-- since its last service; a day counts once. A blank has no tolerance. Decimals add up to the same
-- sum in any order.
WITH chamber_day AS (
    SELECT
        c.site_id,
        c.dryer_id,
        c.local_date,
        round(c.dose_ul, 1) AS dose_ul,
        avg(c.reading_ul::DECIMAL(18, 6)) AS reading_ul,
        max(c.tolerance_ul) AS tolerance_ul
    FROM dose_check AS c
    INNER JOIN dryer_calibration AS d ON d.site_id = c.site_id AND d.dryer_id = c.dryer_id
    WHERE
        c.local_date > d.counted_on - 180
        AND c.local_date <= d.counted_on
        AND (d.last_served_on IS NULL OR c.local_date >= d.last_served_on)
    GROUP BY ALL
)

SELECT
    site_id,
    dryer_id,
    dose_ul,
    count(*) AS days,
    avg(reading_ul::DECIMAL(18, 6)) AS reading_ul,
    min(reading_ul) AS lowest_ul,
    max(reading_ul) AS highest_ul,
    max(tolerance_ul) FILTER (dose_ul > 0) AS tolerance_ul
FROM chamber_day
WHERE reading_ul IS NOT NULL
GROUP BY site_id, dryer_id, dose_ul
ORDER BY site_id, dryer_id, dose_ul
