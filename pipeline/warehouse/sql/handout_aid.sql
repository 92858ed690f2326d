-- Grain: one row per aid of the session asked for.
-- Denominator: rows of the session that count.
SELECT
    a.device_key,
    a.wearer_key,
    a.ear,
    a.treatment,
    a.dryer_id,
    a.local_date,
    a.device_style,
    a.power_source,
    a.exposure,
    a.visit_reason,
    a.condition_before,
    a.condition_before_drying,
    a.condition_after_cleaning,
    a.condition_after,
    a.disposition,
    a.season,
    a.climate_group,
    a.days_since_last_dry,
    a.days_since_dry_band,
    a.aids_in_chamber,
    a.is_alone,
    a.is_complete,
    a.is_outside_rates,
    a.moisture_ul,
    a.is_below_detection,
    a.moisture_per_aid_ul,
    a.moisture_limit_per_aid_ul,
    a.moisture_basis,
    a.standing,
    a.device_id IS NOT NULL AS has_device_id,
    coalesce(s.site_name, a.site_id) AS site_name
FROM session_aid AS a
LEFT JOIN site AS s ON s.site_id = a.site_id
WHERE
    a.site_id = $site_id
    AND (a.session_id = $session_id OR (a.session_id IS NULL AND a.session_key = $session_key))
ORDER BY a.device_key, a.ear
