-- Grain: one row per basis, aids in the load (0: one and two together), grouping and group.
-- Denominator: the loads used by moisture_distribution; a load of two wearers belongs to one of
-- them. n loads of m wearers and Σn² over wearers. At the grouping 'all', y counts a wearer's loads
-- at or under the middle reading: from it comes the correlation that all groups of a basis borrow.
WITH load AS (
    SELECT
        s.*,
        hash(s.wearer_key) AS wearer,
        CASE WHEN s.is_alone THEN 1 WHEN s.aids_in_chamber = 2 THEN 2 END AS aids,
        round(s.moisture_ul / s.aids_in_chamber, 2) AS raw_ul,
        d.detection_limit_ul / s.aids_in_chamber AS raw_limit_ul
    FROM session AS s
    LEFT JOIN dryer AS d ON d.site_id = s.site_id AND d.dryer_id = s.dryer_id
    WHERE
        s.treatment = 'dried' AND NOT s.is_outside_rates AND s.is_complete
        AND (s.moisture_ul IS NOT NULL OR s.is_below_detection OR s.is_moisture_below_detection)
        AND (s.is_alone OR (s.aids_in_chamber = 2 AND coalesce(s.other_items_in_chamber, 'none') = 'none'))
),

reading AS (
    SELECT
        'corrected' AS basis,
        *,
        round(
            CASE WHEN is_below_detection THEN moisture_limit_per_aid_ul ELSE moisture_per_aid_ul END,
            2
        ) AS value
    FROM load
    WHERE standing IN ('correctable', 'in_tolerance')
    UNION ALL BY NAME
    SELECT
        'as_read' AS basis,
        *,
        round(
            CASE
                WHEN coalesce(is_moisture_below_detection, false)
                    OR coalesce(raw_ul < raw_limit_ul, false) THEN raw_limit_ul
                ELSE raw_ul
            END,
            2
        ) AS value
    FROM load
),

middle AS (
    SELECT basis, aids, quantile_disc(value, 0.5) AS middle_ul
    FROM reading
    WHERE value IS NOT NULL
    GROUP BY ALL
),

per_wearer AS (
    SELECT
        r.basis,
        grouping_id(
            season, climate_group, device_style, exposure, visit_reason, cycle_programme,
            days_since_dry_band, site_id
        ) AS grouping_id,
        season, climate_group, device_style, exposure, visit_reason, cycle_programme,
        days_since_dry_band, site_id,
        count(*) FILTER (r.aids = 1) AS n1,
        count(*) FILTER (r.aids = 2) AS n2,
        count(*) FILTER (r.aids = 1 AND r.value <= m.middle_ul) AS y1,
        count(*) FILTER (r.aids = 2 AND r.value <= m.middle_ul) AS y2
    FROM reading AS r
    INNER JOIN middle AS m ON m.basis = r.basis AND m.aids = r.aids
    WHERE r.value IS NOT NULL AND r.basis = 'corrected'
    GROUP BY
        r.basis, wearer,
        GROUPING SETS (
            (), (season), (climate_group), (device_style), (season, climate_group),
            (device_style, climate_group), (season, climate_group, device_style), (exposure),
            (visit_reason), (cycle_programme), (days_since_dry_band), (site_id)
        )
    UNION ALL
    SELECT
        r.basis,
        CASE WHEN grouping(site_id) = 0 THEN 254 ELSE 255 END AS grouping_id,
        NULL, NULL, NULL, NULL, NULL, NULL, NULL, site_id,
        count(*) FILTER (r.aids = 1) AS n1,
        count(*) FILTER (r.aids = 2) AS n2,
        count(*) FILTER (r.aids = 1 AND r.value <= m.middle_ul) AS y1,
        count(*) FILTER (r.aids = 2 AND r.value <= m.middle_ul) AS y2
    FROM reading AS r
    INNER JOIN middle AS m ON m.basis = r.basis AND m.aids = r.aids
    WHERE r.value IS NOT NULL AND r.basis = 'as_read'
    GROUP BY r.basis, wearer, GROUPING SETS ((), (site_id))
),

by_aids AS (
    SELECT * EXCLUDE (n1, n2, y1, y2), n, y, aids
    FROM (
        SELECT
            *,
            unnest([0, 1, 2]) AS aids,
            unnest([n1 + n2, n1, n2]) AS n,
            unnest([y1 + y2, y1, y2]) AS y
        FROM per_wearer
    )
    WHERE n > 0
)

SELECT
    basis,
    aids,
    grouping_id,
    season, climate_group, device_style, exposure, visit_reason, cycle_programme,
    days_since_dry_band, site_id,
    sum(n)::BIGINT AS n,
    count(*) AS m,
    sum(n * n)::BIGINT AS nn,
    sum(y)::BIGINT AS k,
    sum(y * y)::BIGINT AS yy,
    sum(n * y)::BIGINT AS yn,
    sum((y * y / n)::DECIMAL(18, 9))::DOUBLE AS yyn
FROM by_aids
GROUP BY ALL
ORDER BY ALL
