-- Grain: one row per accepted session row, narrow: its session, its aid and its failed set rule.
-- Denominator: every accepted row of the live sessions files.
WITH single_chamber AS (
    SELECT site_id, any_value(dryer_id) AS dryer_id
    FROM dryer
    GROUP BY site_id
    HAVING count(*) = 1
),
row_read AS (
    SELECT
        p.file_id,
        p.line,
        p.part_of_line,
        p.site_id,
        p.session_id,
        p.device_id,
        coalesce(p.patient_id, d.patient_id) AS patient_id,
        coalesce(p.ear, 'unknown') AS ear,
        coalesce(p.treatment, 'dried') AS treatment,
        CASE
            WHEN coalesce(p.treatment, 'dried') = 'dried' THEN coalesce(p.dryer_id, c.dryer_id)
        END AS dryer_id,
        p.started_at,
        p.local_date,
        p.time_precision,
        p.model_code,
        p.receiver_code,
        p.exposure,
        p.disposition,
        p.condition_after,
        CASE
            WHEN p.hours_since_exposure IS NOT NULL THEN p.hours_since_exposure
            ELSE
                CASE p.delay_band
                    WHEN 'under_24h' THEN 24
                    WHEN '24_48h' THEN 48
                    WHEN '2_4_days' THEN 96
                    WHEN '4_7_days' THEN 168
                END
        END AS hours_at_most,
        strftime(p.started_at, '%Y-%m-%dT%H:%M:%SZ') AS start_text
    FROM part_sessions AS p
    LEFT JOIN single_chamber AS c ON c.site_id = p.site_id
    LEFT JOIN live_devices AS d ON d.site_id = p.site_id AND d.device_id = p.device_id
),
load_known AS (
    SELECT
        *,
        CASE
            WHEN session_id IS NOT NULL THEN session_id
            WHEN treatment = 'dried' AND time_precision = 'instant' AND dryer_id IS NOT NULL
                THEN dryer_id || ' ' || start_text
        END AS load_key
    FROM row_read
),
aid_known AS (
    SELECT *, device_id || ' ' || ear AS aid_key
    FROM load_known
    WHERE device_id IS NOT NULL
    UNION ALL
    SELECT
        *,
        ear || ' ' || row_number() OVER (
            PARTITION BY file_id, site_id, coalesce(load_key, start_text), ear ORDER BY line, part_of_line
        ) AS aid_key
    FROM load_known
    WHERE device_id IS NULL
),
session_known AS (
    SELECT *, coalesce(load_key, start_text || ' ' || aid_key) AS session_key
    FROM aid_known
),
ambiguous AS (
    SELECT DISTINCT file_id, line, part_of_line FROM session_run WHERE is_ambiguous
),
known_receiver AS (
    SELECT DISTINCT receiver_code FROM device_model WHERE receiver_code IS NOT NULL
),
known_model AS (
    SELECT DISTINCT model_code FROM device_model
)
SELECT
    r.file_id,
    r.line,
    r.part_of_line,
    r.site_id,
    r.session_key,
    r.site_id || '|' || r.session_key || '|' || r.aid_key AS row_key,
    r.device_id,
    coalesce(r.device_id, r.session_key || ' ' || r.aid_key) AS device_key,
    coalesce(r.patient_id, r.device_id, r.site_id || ' ' || r.session_key || ' ' || r.aid_key)
        AS wearer_key,
    r.treatment,
    r.dryer_id,
    r.started_at,
    r.local_date,
    r.exposure,
    r.disposition,
    r.condition_after,
    r.hours_at_most,
    CASE
        WHEN s.site_id IS NULL THEN 'site_listed'
        WHEN r.local_date > getvariable('as_of') + 1 THEN 'session_not_future'
        WHEN r.local_date < s.opened_on OR r.local_date > s.closed_on
            THEN 'clinic_open'
        WHEN r.dryer_id IS NOT NULL AND d.dryer_id IS NULL THEN 'chamber_listed'
        WHEN a.file_id IS NOT NULL THEN 'one_run'
        WHEN r.model_code IS NOT NULL AND m.model_code IS NULL
            THEN 'model_listed'
        WHEN r.receiver_code IS NOT NULL AND v.receiver_code IS NULL
            THEN 'receiver_listed'
    END AS rule
FROM session_known AS r
LEFT JOIN site AS s ON s.site_id = r.site_id
LEFT JOIN dryer AS d ON d.site_id = r.site_id AND d.dryer_id = r.dryer_id
LEFT JOIN known_model AS m ON m.model_code = r.model_code
LEFT JOIN known_receiver AS v ON v.receiver_code = r.receiver_code
LEFT JOIN ambiguous AS a
    ON a.file_id = r.file_id AND a.line = r.line AND a.part_of_line = r.part_of_line
