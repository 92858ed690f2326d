-- The history of the aid with most sessions. Ids are keyed hashes: they tell aids apart, no more.
WITH busiest AS (
    SELECT device_key FROM session_aid
    WHERE device_id IS NOT NULL
    GROUP BY device_key ORDER BY count(*) DESC, device_key LIMIT 1
)
SELECT local_date, treatment, condition_before_drying, condition_after, cycle_number,
    days_since_last_dry, round(moisture_per_aid_ul, 2) AS moisture_per_aid_ul, disposition
FROM session_aid
WHERE device_key = (FROM busiest)
ORDER BY started_at_utc
