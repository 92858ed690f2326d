-- Grain: one row per aid that has an id.
-- Denominator: session rows that count and name the aid; a fact is the last one recorded.
SELECT
    site_id,
    device_id,
    max_by(wearer_key, (started_at_utc, file_id, line, part_of_line)) AS wearer_key,
    max_by(device_style, (started_at_utc, file_id, line, part_of_line)) AS device_style,
    max_by(is_outside_rates, (started_at_utc, file_id, line, part_of_line)) AS is_outside_rates,
    max_by(power_source, (started_at_utc, file_id, line, part_of_line)) FILTER (
        WHERE power_source IS NOT NULL
    ) AS power_source,
    max_by(model_code, (started_at_utc, file_id, line, part_of_line)) FILTER (
        WHERE model_code IS NOT NULL
    ) AS model_code,
    max_by(receiver_code, (started_at_utc, file_id, line, part_of_line)) FILTER (
        WHERE receiver_code IS NOT NULL
    ) AS receiver_code,
    max(fitted_on) AS fitted_on,
    min(local_date) AS first_local_date,
    max(local_date) AS last_local_date,
    count(*) AS sessions,
    count_if(treatment = 'dried') AS dried_sessions,
    count(DISTINCT episode_id) AS episodes
FROM session_aid
WHERE device_id IS NOT NULL AND in_scope(site_id)
GROUP BY site_id, device_id
