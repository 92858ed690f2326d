-- Grain: one row per load of a chamber, or comparison visit.
-- Denominator: sessions with at least one row that counts; a column of the aids is null where
-- they do not share it.
WITH aid_shared AS (
    SELECT
        session_at,
        count(DISTINCT wearer_key) AS wearers,
        min(wearer_key) AS wearer_key,
        CASE
            WHEN count(device_style) = count(*) AND min(device_style) = max(device_style)
                THEN min(device_style)
        END AS device_style,
        CASE
            WHEN count(exposure) = count(*) AND min(exposure) = max(exposure) THEN min(exposure)
        END AS exposure,
        CASE
            WHEN count(visit_reason) = count(*) AND min(visit_reason) = max(visit_reason)
                THEN min(visit_reason)
        END AS visit_reason,
        CASE
            WHEN min(condition_before_drying) = max(condition_before_drying)
                THEN min(condition_before_drying)
        END AS condition_before_drying,
        CASE
            WHEN
                count(days_since_dry_band) = count(*)
                AND min(days_since_dry_band) = max(days_since_dry_band)
                THEN min(days_since_dry_band)
        END AS days_since_dry_band,
        CASE
            WHEN count(home_dryer) = count(*) AND min(home_dryer) = max(home_dryer)
                THEN min(home_dryer)
        END AS home_dryer,
        bool_or(is_outside_rates) AS is_outside_rates,
        any_value(month) AS month,
        any_value(season) AS season,
        any_value(climate) AS climate,
        any_value(climate_group) AS climate_group,
        any_value(elevation_m) AS elevation_m,
        any_value(moisture_per_aid_ul) AS moisture_per_aid_ul,
        any_value(moisture_limit_per_aid_ul) AS moisture_limit_per_aid_ul
    FROM written_aid
    WHERE aids_counted > 1
    GROUP BY session_at
    UNION ALL BY NAME
    SELECT
        a.session_at,
        1 AS wearers,
        a.wearer_key,
        a.device_style,
        a.exposure,
        a.visit_reason,
        a.condition_before_drying,
        a.days_since_dry_band,
        a.home_dryer,
        a.is_outside_rates,
        a.month,
        a.season,
        a.climate,
        a.climate_group,
        a.elevation_m,
        a.moisture_per_aid_ul,
        a.moisture_limit_per_aid_ul
    FROM written_aid AS a
    WHERE a.aids_counted = 1
)
SELECT
    r.*,
    r.started_at AS started_at_utc,
    a.* EXCLUDE (session_at)
FROM session_reading AS r
JOIN aid_shared AS a ON a.session_at = r.session_at
