-- Grain: one row per aid that has an id.
-- Denominator: session rows that count and name the aid; a fact is the last one recorded.
WITH named AS (
    SELECT
        *,
        -- Moment, file, line and part of the line, in this order, as one number.
        epoch_us(started_at_utc)::HUGEINT * 18446744073709551616 + row_at AS place
    FROM written_aid
    WHERE device_id IS NOT NULL
)
SELECT
    site_id,
    device_id,
    max_by(wearer_key, place) AS wearer_key,
    max_by(device_style, place) AS device_style,
    max_by(is_outside_rates, place) AS is_outside_rates,
    max_by(power_source, place) AS power_source,
    max_by(model_code, place) AS model_code,
    max_by(receiver_code, place) AS receiver_code,
    max(fitted_on) AS fitted_on,
    min(local_date) AS first_local_date,
    max(local_date) AS last_local_date,
    count(*) AS sessions,
    count_if(treatment = 'dried') AS dried_sessions,
    count_if(episode_id IS NOT NULL AND cycle_number = 1) AS episodes
FROM named
GROUP BY site_id, device_id
