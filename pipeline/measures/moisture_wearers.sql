-- Grain: one row per basis, aids in the load (0: one and two together), grouping and group.
-- Denominator: the loads used by moisture_distribution. Sums over wearers, of loads (n) and of
-- loads at or under the group's middle reading (y), for the design effect of the median; a load
-- of two wearers belongs to one of them.
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
        AND (s.is_alone OR (s.aids_in_chamber = 2 AND s.other_items_in_chamber = 'none'))
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

counted AS (
    SELECT r.*, u.aids_set
    FROM reading AS r, unnest([r.aids, 0]) AS u (aids_set)
    WHERE r.value IS NOT NULL
),

middle AS (
    SELECT
        basis,
        aids_set,
        grouping_id(
            season, climate_group, device_style, exposure, visit_reason, cycle_programme,
            days_since_dry_band, site_id
        ) AS grouping_id,
        season, climate_group, device_style, exposure, visit_reason, cycle_programme,
        days_since_dry_band, site_id,
        wearer,
        list(value) AS readings
    FROM counted
    GROUP BY
        basis, aids_set, wearer,
        GROUPING SETS (
            (), (season), (climate_group), (device_style), (season, climate_group),
            (device_style, climate_group), (season, climate_group, device_style), (exposure),
            (visit_reason), (cycle_programme), (days_since_dry_band), (site_id)
        )
    HAVING basis = 'corrected' OR grouping_id = 254
),

median_of AS (
    SELECT
        basis, aids_set, grouping_id, season, climate_group, device_style, exposure, visit_reason,
        cycle_programme, days_since_dry_band, site_id,
        quantile_disc(reading, 0.5) AS median_ul
    FROM (SELECT * EXCLUDE readings, unnest(readings) AS reading FROM middle)
    GROUP BY ALL
),

per_wearer AS (
    SELECT
        m.* EXCLUDE (readings),
        len(m.readings) AS n,
        len(list_filter(m.readings, lambda x : x <= q.median_ul)) AS y
    FROM middle AS m
    INNER JOIN median_of AS q
        ON q.basis = m.basis AND q.aids_set = m.aids_set AND q.grouping_id = m.grouping_id
        AND q.season IS NOT DISTINCT FROM m.season
        AND q.climate_group IS NOT DISTINCT FROM m.climate_group
        AND q.device_style IS NOT DISTINCT FROM m.device_style
        AND q.exposure IS NOT DISTINCT FROM m.exposure
        AND q.visit_reason IS NOT DISTINCT FROM m.visit_reason
        AND q.cycle_programme IS NOT DISTINCT FROM m.cycle_programme
        AND q.days_since_dry_band IS NOT DISTINCT FROM m.days_since_dry_band
        AND q.site_id IS NOT DISTINCT FROM m.site_id
)

SELECT
    basis,
    aids_set AS aids,
    grouping_id,
    season, climate_group, device_style, exposure, visit_reason, cycle_programme,
    days_since_dry_band, site_id,
    sum(n)::BIGINT AS n,
    sum(y)::BIGINT AS k,
    count(*) AS m,
    sum(n * n)::BIGINT AS nn,
    sum(y * y)::BIGINT AS yy,
    sum(n * y)::BIGINT AS yn
FROM per_wearer
GROUP BY ALL
ORDER BY ALL
