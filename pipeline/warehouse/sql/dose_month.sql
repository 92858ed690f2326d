-- Grain: one row per chamber and month with a dose of water.
-- Denominator: days with a dose check, blanks left out; a day is within tolerance if every check is.
WITH chamber_day AS (
    SELECT
        site_id,
        dryer_id,
        local_date,
        bool_and(is_within_tolerance) AS is_within
    FROM dose_check
    WHERE dose_ul > 0
    GROUP BY ALL
)

SELECT
    site_id,
    dryer_id,
    CAST(date_trunc('month', local_date) AS DATE) AS month,
    count(*) AS days,
    count(*) FILTER (is_within) AS days_within,
    max(local_date) AS last_checked_on
FROM chamber_day
GROUP BY ALL
ORDER BY ALL
