-- Grain: one row per aid per session or comparison visit that counts.
-- Denominator: session rows that pass every rule and are the newest version of their key.
-- Placeholders: {load} the columns on which a session's rows agree, {inherited} what an aid's
-- own record adds where its session is silent.
WITH placed AS (
    SELECT
        r.row_at,
        r.episode_at,
        r.first_start,
        r.episode_number,
        r.cycle_number,
        r.earlier_date,
        e.is_open
    FROM episode_row AS r
    JOIN episode_end AS e ON e.episode_at = r.episode_at
),
joined AS (
    SELECT
        p.* EXCLUDE (row_at, treatment, dryer_id, local_date, time_precision, {load})
        REPLACE (
            {inherited},
            CASE
                WHEN p.hours_since_exposure < 24 THEN 'under_24h'
                WHEN p.hours_since_exposure < 48 THEN '24_48h'
                WHEN p.hours_since_exposure < 96 THEN '2_4_days'
                WHEN p.hours_since_exposure < 168 THEN '4_7_days'
                WHEN p.hours_since_exposure >= 168 THEN 'over_7_days'
                ELSE p.delay_band
            END AS delay_band
        ),
        s.* EXCLUDE (session_at, site_id, session_key, started_at, aids_counted, is_boiling_not_possible, is_disagreed),
        s.started_at AS started_at_utc,
        date_trunc('month', s.local_date)::DATE AS month,
        r.row_at,
        r.session_at,
        e.episode_at,
        r.aids_counted,
        r.session_key,
        r.device_key,
        r.wearer_key,
        CASE
            WHEN c.has_wet_and_dry_season THEN CASE WHEN n.is_wet THEN 'wet' WHEN NOT n.is_wet THEN 'dry' END
            WHEN c.latitude IS NULL THEN NULL
            ELSE
                CASE ((month(s.local_date) + CASE WHEN c.latitude < 0 THEN 6 ELSE 0 END) % 12) // 3
                    WHEN 0 THEN 'winter'
                    WHEN 1 THEN 'spring'
                    WHEN 2 THEN 'summer'
                    ELSE 'autumn'
                END
        END AS season,
        c.climate,
        c.climate_group,
        c.elevation_m,
        p.device_style IN ('cros_transmitter', 'bone_conduction', 'implant_sound_processor')
            AS is_outside_rates,
        coalesce(p.condition_after_cleaning, p.condition_before) AS condition_before_drying,
        p.condition_after_cleaning IS NOT NULL AS is_order_recorded,
        coalesce(
            p.device_age_months, (s.local_date - coalesce(p.fitted_on, d.fitted_on)) / 30.4375
        ) AS age_months,
        CASE
            WHEN s.is_complete AND NOT coalesce(s.is_below_detection, false)
                THEN CASE s.moisture_basis WHEN 'corrected' THEN s.moisture_corrected_ul ELSE s.moisture_ul END
                / s.aids_in_chamber
        END AS moisture_per_aid_ul,
        CASE WHEN s.is_complete THEN s.moisture_limit_ul / s.aids_in_chamber END
            AS moisture_limit_per_aid_ul,
        r.site_id || '|' || r.device_id || '|' || strftime(e.first_start, '%Y-%m-%dT%H:%M:%SZ')
        || CASE WHEN e.episode_number > 1 THEN '|' || e.episode_number ELSE '' END AS episode_id,
        coalesce(e.cycle_number, CASE WHEN s.treatment = 'dried' THEN 1 END) AS cycle_number,
        s.treatment = 'dried' AND coalesce(e.cycle_number, 1) = 1 AS is_first_cycle,
        e.is_open AS is_episode_open,
        s.local_date - coalesce(e.earlier_date, h.dried_on) AS days_since_last_dry
    FROM placed_sessions AS p
    JOIN live_row AS r ON r.row_at = p.row_at
    JOIN session_reading AS s ON s.session_at = r.session_at
    JOIN site AS c ON c.site_id = r.site_id
    LEFT JOIN climate_normal AS n ON n.site_id = r.site_id AND n.month = month(s.local_date)
    LEFT JOIN live_devices AS d ON d.site_id = r.site_id AND d.device_id = r.device_id
    LEFT JOIN placed AS e ON e.row_at = r.row_at
    LEFT JOIN cleaned_history AS h ON h.row_at = r.row_at
)
SELECT
    *,
    CASE
        WHEN age_months < 12 THEN 'under_1_year'
        WHEN age_months < 36 THEN '1_2_years'
        WHEN age_months < 60 THEN '3_4_years'
        WHEN age_months >= 60 THEN '5_years_or_more'
    END AS device_age_band,
    CASE
        WHEN device_id IS NULL THEN NULL
        WHEN days_since_last_dry IS NULL THEN 'first_seen'
        WHEN days_since_last_dry < 30 THEN 'under_30_days'
        WHEN days_since_last_dry < 90 THEN '30_89_days'
        WHEN days_since_last_dry < 180 THEN '90_179_days'
        WHEN days_since_last_dry < 365 THEN '180_364_days'
        ELSE '365_days_or_more'
    END AS days_since_dry_band,
    -- Filled once measurement_repeatability tells noise from change.
    NULL AS hfa_gain_change,
    NULL AS hfa_ospl90_change,
    NULL AS thd_change,
    NULL AS measured_change,
    NULL AS is_any_positive_change,
    NULL AS change_basis,
    NULL AS worst_change_ratio
FROM joined
