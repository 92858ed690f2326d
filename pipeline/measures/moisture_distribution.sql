-- Grain: one row per basis, aids in the load, grouping, group, value and
-- whether it is below detection; then it is at most the value.
-- Denominator: complete dried loads of one or two aids and nothing else, with a reading, inside
-- the centiles. Basis 'corrected': chambers in tolerance or correctable on that day. Basis
-- 'as_read': raw readings of every chamber, within sites only. Loads left out are counted in rows
-- without a value. Groups are told apart by grouping_id: a bit a column, 0 = grouped by.
WITH load AS (
    SELECT
        s.*,
        CASE WHEN s.is_alone THEN 1 WHEN s.aids_in_chamber = 2 THEN 2 END AS aids,
        s.standing IN ('correctable', 'in_tolerance') AS is_calibrated,
        round(s.moisture_ul / s.aids_in_chamber, 2) AS raw_ul,
        d.detection_limit_ul / s.aids_in_chamber AS raw_limit_ul
    FROM session AS s
    LEFT JOIN dryer AS d ON d.site_id = s.site_id AND d.dryer_id = s.dryer_id
    WHERE
        s.treatment = 'dried' AND NOT s.is_outside_rates
        AND (s.moisture_ul IS NOT NULL OR s.is_below_detection OR s.is_moisture_below_detection)
        AND (s.is_alone OR (s.aids_in_chamber = 2 AND coalesce(s.other_items_in_chamber, 'none') = 'none'))
),

reading AS (
    SELECT
        'corrected' AS basis,
        *,
        CASE
            WHEN NOT is_complete THEN 'incomplete'
            WHEN NOT coalesce(is_calibrated, false) THEN 'uncalibrated'
            WHEN coalesce(is_below_detection, false) AND moisture_limit_per_aid_ul IS NULL
                THEN 'no limit'
            WHEN NOT coalesce(is_below_detection, false) AND moisture_per_aid_ul IS NULL
                THEN 'no limit'
            ELSE 'used'
        END AS fate,
        coalesce(is_below_detection, false) AS is_below,
        round(
            CASE WHEN is_below THEN moisture_limit_per_aid_ul ELSE moisture_per_aid_ul END, 2
        ) AS value_ul,
        round(moisture_limit_per_aid_ul, 2) AS limit_ul
    FROM load
    UNION ALL BY NAME
    SELECT
        'as_read' AS basis,
        *,
        coalesce(is_moisture_below_detection, false) OR coalesce(raw_ul < raw_limit_ul, false)
            AS is_below,
        CASE
            WHEN NOT is_complete THEN 'incomplete'
            WHEN is_below AND raw_limit_ul IS NULL THEN 'no limit'
            ELSE 'used'
        END AS fate,
        round(CASE WHEN is_below THEN raw_limit_ul ELSE raw_ul END, 2) AS value_ul,
        round(raw_limit_ul, 2) AS limit_ul
    FROM load
)

SELECT
    basis,
    aids,
    fate,
    grouping_id(
        season, climate_group, device_style, exposure, visit_reason, cycle_programme,
        days_since_dry_band, site_id
    ) AS grouping_id,
    season,
    climate_group,
    device_style,
    exposure,
    visit_reason,
    cycle_programme,
    days_since_dry_band,
    site_id,
    CASE WHEN fate = 'used' THEN value_ul END AS value,
    CASE WHEN fate = 'used' THEN is_below END AS below,
    count(*) AS loads,
    min(limit_ul) AS lowest_limit
FROM reading
WHERE basis = 'corrected'
GROUP BY
    basis, aids, fate, value, below,
    GROUPING SETS (
        (), (season), (climate_group), (device_style), (season, climate_group),
        (device_style, climate_group), (season, climate_group, device_style), (exposure),
        (visit_reason), (cycle_programme), (days_since_dry_band), (site_id)
    )
UNION ALL
SELECT
    basis, aids, fate, 254 AS grouping_id,
    NULL, NULL, NULL, NULL, NULL, NULL, NULL, site_id,
    CASE WHEN fate = 'used' THEN value_ul END AS value,
    CASE WHEN fate = 'used' THEN is_below END AS below,
    count(*) AS loads,
    min(limit_ul) AS lowest_limit
FROM reading
WHERE basis = 'as_read'
GROUP BY basis, aids, fate, value, below, site_id
ORDER BY ALL
