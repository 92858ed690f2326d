-- Grain: one row per chamber, way of ordering its runs of a day, and band.
-- Denominator: complete dried loads of one aid and nothing else with a reading and a clock time,
-- not immersed; every run of the chamber counts for the order. Below detection reads as 0, which
-- a median passes over.
-- State: of site.
WITH run AS (
    SELECT
        site_id,
        dryer_id,
        is_alone AND is_complete AND NOT is_outside_rates AND exposure IS DISTINCT FROM 'immersion'
            AND (moisture_ul IS NOT NULL OR is_below_detection) AS is_read,
        CASE WHEN is_below_detection THEN 0 ELSE moisture_ul END AS reading_ul,
        row_number() OVER day_of AS run_of_day,
        date_diff('minute', lag(started_at_utc) OVER day_of, started_at_utc)
            - lag(cycle_minutes) OVER day_of AS minutes_since_previous
    FROM session
    WHERE treatment = 'dried' AND dryer_id IS NOT NULL AND time_precision = 'instant'
    WINDOW day_of AS (
        PARTITION BY site_id, dryer_id, local_date ORDER BY started_at_utc, session_key
    )
),

banded AS (
    SELECT
        *,
        unnest([
            {
                'ordered_by': 'run_of_day',
                'order_band': CASE run_of_day
                    WHEN 1 THEN 'first' WHEN 2 THEN 'second' WHEN 3 THEN 'third'
                    ELSE 'fourth_or_later'
                END
            },
            {
                'ordered_by': 'minutes_since_previous',
                'order_band': CASE
                    WHEN run_of_day = 1 THEN 'first'
                    WHEN minutes_since_previous < 15 THEN 'under_15_minutes'
                    WHEN minutes_since_previous < 60 THEN '15_59_minutes'
                    WHEN minutes_since_previous < 180 THEN '60_179_minutes'
                    WHEN minutes_since_previous >= 180 THEN '180_minutes_or_more'
                END
            }
        ]) AS place
    FROM run
    WHERE is_read
)

SELECT
    site_id,
    dryer_id,
    place.ordered_by AS ordered_by,
    place.order_band AS order_band,
    count(*) AS n,
    median(reading_ul) AS median_ul
FROM banded
WHERE place.order_band IS NOT NULL
GROUP BY ALL
ORDER BY ALL
