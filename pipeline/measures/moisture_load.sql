-- Grain: one row per load and basis.
-- Denominator: dried loads of one or two aids and nothing else, inside the centiles, with a
-- reading. Basis 'corrected': chambers in tolerance or correctable on that day. Basis 'as_read':
-- raw readings of every chamber. Values and limits are per aid, in hundredths of a microlitre. Of a
-- correctable chamber's reading outside the doses checked no more is known than that: above them it
-- counts as read, and at least as the highest dose; under them as below detection at the lowest.
-- Groups are told by places in moisture_word; limit_class is half an octave of the limit.
-- line_key tells a chamber's lines since one service. Standard errors of the line a + b·dose move the corrected reading by intercept_move_ul and, times
-- the reading, by slope_move. dew_point: the month's normal at the site, in tenths of a degree.
WITH load AS (
    SELECT
        hash(s.wearer_key) AS wearer,
        s.site_id,
        s.dryer_id,
        s.local_date,
        p.place AS site_place,
        list_position(w.season, s.season)::UTINYINT AS season,
        list_position(w.climate_group, s.climate_group)::UTINYINT AS climate_group,
        list_position(w.device_style, s.device_style)::UTINYINT AS device_style,
        list_position(w.exposure, s.exposure)::UTINYINT AS exposure,
        list_position(w.visit_reason, s.visit_reason)::UTINYINT AS visit_reason,
        list_position(w.cycle_programme, s.cycle_programme)::UTINYINT AS cycle_programme,
        list_position(w.days_since_dry_band, s.days_since_dry_band)::UTINYINT AS days_since_dry_band,
        CASE WHEN s.is_alone THEN 1 WHEN s.aids_in_chamber = 2 THEN 2 END::UTINYINT AS aids,
        s.is_complete,
        s.standing,
        s.moisture_basis,
        coalesce(s.is_below_detection, false) AS is_below,
        s.moisture_per_aid_ul,
        s.moisture_limit_per_aid_ul,
        round(10 * c.mean_dew_point_c)::SMALLINT AS dew_point,
        round(s.moisture_ul / s.aids_in_chamber, 2) AS raw_ul,
        d.detection_limit_ul / s.aids_in_chamber AS raw_limit_ul,
        coalesce(s.is_moisture_below_detection, false)
        OR coalesce(s.moisture_ul / s.aids_in_chamber < d.detection_limit_ul / s.aids_in_chamber, false)
            AS is_raw_below
    FROM session AS s
    CROSS JOIN moisture_word AS w
    LEFT JOIN (
        SELECT unnest(site_id) AS site_id, generate_subscripts(site_id, 1)::USMALLINT AS place
        FROM moisture_word
    ) AS p ON p.site_id = s.site_id
    LEFT JOIN dryer AS d ON d.site_id = s.site_id AND d.dryer_id = s.dryer_id
    LEFT JOIN climate_normal AS c ON c.site_id = s.site_id AND c.month = month(s.local_date)
    WHERE
        s.treatment = 'dried' AND NOT s.is_outside_rates
        AND (s.moisture_ul IS NOT NULL OR s.is_below_detection OR s.is_moisture_below_detection)
        AND (s.is_alone OR (s.aids_in_chamber = 2 AND coalesce(s.other_items_in_chamber, 'none') = 'none'))
),

lined AS (
    SELECT
        l.*,
        hash(l.site_id, l.dryer_id, c.served_on) AS line_key,
        c.lowest_dose_ul / l.aids AS lowest_dose_ul,
        c.highest_dose_ul / l.aids AS highest_dose_ul,
        c.intercept_slope_correlation,
        CASE
            WHEN l.standing <> 'correctable' OR l.moisture_basis <> 'as_read' OR l.is_below THEN 0
            ELSE sign(l.raw_ul * l.aids - c.intercept_ul - c.slope * c.highest_dose_ul)
        END AS outside_doses,
        CASE WHEN l.moisture_basis = 'corrected' THEN c.intercept_se_ul / c.slope / l.aids END
            AS intercept_move_ul,
        CASE WHEN l.moisture_basis = 'corrected' THEN c.slope_se / c.slope END AS slope_move
    FROM load AS l
    ASOF LEFT JOIN calibration_line AS c
        ON c.site_id = l.site_id AND c.dryer_id = l.dryer_id AND c.known_from <= l.local_date
),

measured AS (
    SELECT
        true AS is_corrected,
        * REPLACE (is_below OR outside_doses < 0 AS is_below),
        CASE
            WHEN outside_doses > 0 THEN greatest(moisture_per_aid_ul, highest_dose_ul)
            WHEN outside_doses < 0 THEN greatest(lowest_dose_ul, moisture_limit_per_aid_ul)
            WHEN is_below THEN moisture_limit_per_aid_ul
            ELSE moisture_per_aid_ul
        END AS value_ul,
        moisture_limit_per_aid_ul AS limit_ul,
        CASE
            WHEN NOT is_complete THEN 'incomplete'
            WHEN NOT coalesce(standing IN ('correctable', 'in_tolerance'), false) THEN 'uncalibrated'
            WHEN value_ul IS NULL THEN 'no limit'
            ELSE 'used'
        END AS fate
    FROM lined
    UNION ALL BY NAME
    SELECT
        false AS is_corrected,
        * REPLACE (is_raw_below AS is_below),
        CASE WHEN is_raw_below THEN raw_limit_ul ELSE raw_ul END AS value_ul,
        raw_limit_ul AS limit_ul,
        CASE
            WHEN NOT is_complete THEN 'incomplete'
            WHEN value_ul IS NULL THEN 'no limit'
            ELSE 'used'
        END AS fate
    FROM lined
)

SELECT
    is_corrected, wearer, aids, fate, season, climate_group, device_style, exposure, visit_reason,
    cycle_programme, days_since_dry_band, site_place AS site_id, line_key,
    CASE WHEN fate = 'used' THEN dew_point END AS dew_point,
    CASE WHEN fate = 'used' THEN round(100 * value_ul)::INTEGER END AS value,
    CASE WHEN fate = 'used' THEN is_below END AS below,
    round(100 * limit_ul)::INTEGER AS lowest_limit,
    CASE WHEN limit_ul > 0 THEN round(2 * log2(limit_ul))::TINYINT END AS limit_class,
    intercept_move_ul,
    slope_move,
    intercept_slope_correlation
FROM measured
