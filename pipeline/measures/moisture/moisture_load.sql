-- Grain: one row per load and basis.
-- Denominator: the loads of moisture_reading. Basis is_corrected: chambers in tolerance or
-- correctable on that day. Otherwise raw readings of every chamber. Values and limits are per aid;
-- a limit of 0 is none. Groups are told by places in moisture_word; the dew point is the month's
-- normal at the site.
WITH coded AS (
    SELECT
        r.*,
        hash(r.wearer_key) AS wearer,
        p.place AS site_place,
        list_position(w.season, r.season)::UTINYINT AS season_place,
        list_position(w.climate_group, r.climate_group)::UTINYINT AS climate_place,
        list_position(w.device_style, r.device_style)::UTINYINT AS style_place,
        list_position(w.exposure, r.exposure)::UTINYINT AS exposure_place,
        list_position(w.visit_reason, r.visit_reason)::UTINYINT AS reason_place,
        list_position(w.cycle_programme, r.cycle_programme)::UTINYINT AS programme_place,
        list_position(w.days_since_dry_band, r.days_since_dry_band)::UTINYINT AS band_place,
        list_position(w.home_dryer, r.home_dryer)::UTINYINT AS home_place,
        round(10 * c.mean_dew_point_c)::SMALLINT AS normal_dew_point_tenths_c,
        round(r.moisture_ul / r.aids_in_chamber, 2) AS raw_ul,
        d.detection_limit_ul / r.aids_in_chamber AS raw_limit_ul,
        coalesce(r.is_moisture_below_detection, false)
        OR coalesce(r.moisture_ul < d.detection_limit_ul, false) AS is_raw_below
    FROM moisture_reading AS r
    CROSS JOIN moisture_word AS w
    LEFT JOIN (
        SELECT unnest(site_id) AS site_id, generate_subscripts(site_id, 1)::USMALLINT AS place
        FROM moisture_word
    ) AS p ON p.site_id = r.site_id
    LEFT JOIN dryer AS d ON d.site_id = r.site_id AND d.dryer_id = r.dryer_id
    LEFT JOIN climate_normal AS c ON c.site_id = r.site_id AND c.month = month(r.local_date)
),

measured AS (
    SELECT true AS is_corrected, *
    FROM coded
    UNION ALL BY NAME
    SELECT
        false AS is_corrected,
        * REPLACE (
            is_raw_below AS is_below,
            CASE WHEN is_raw_below THEN raw_limit_ul ELSE raw_ul END AS value_ul,
            raw_limit_ul AS limit_ul,
            CASE
                WHEN NOT is_complete THEN 'incomplete'
                WHEN if(is_raw_below, raw_limit_ul, raw_ul) IS NULL THEN 'no limit'
                ELSE 'used'
            END AS fate
        )
    FROM coded
)

SELECT
    is_corrected,
    wearer,
    aids,
    fate,
    month,
    season_place AS season,
    climate_place AS climate_group,
    style_place AS device_style,
    exposure_place AS exposure,
    reason_place AS visit_reason,
    programme_place AS cycle_programme,
    band_place AS days_since_dry_band,
    home_place AS home_dryer,
    site_place AS site_id,
    line_key,
    CASE WHEN fate = 'used' THEN normal_dew_point_tenths_c END AS dew_point_tenths_c,
    CASE WHEN fate = 'used' THEN round(100 * value_ul)::INTEGER END AS value_hundredths_ul,
    CASE WHEN fate = 'used' THEN is_below END AS below,
    CASE WHEN fate = 'used' AND limit_ul > 0 THEN round(100 * limit_ul)::INTEGER END
        AS limit_hundredths_ul,
    intercept_move_ul,
    slope_move,
    intercept_slope_correlation
FROM measured
