-- Grain: one row per aid and outcome that sites may be compared on by their aids' mix.
-- Denominator: first cycles of dried aids inside the rates and in the months reported, the outcome
-- known. rows_counted: as in headline_aid; for not_assessed in any order of work: 'headline' or
-- 'left_out'. cluster: the wearer.
-- A word that is not known and one that was not recorded are one level of a covariate. Season is
-- the quarter of the year by hemisphere in the tropics too: wet and dry are seen at tropical sites
-- only, and could not be told from the sites themselves.
WITH dried AS (
    SELECT
        a.site_id,
        hash(a.wearer_key) AS cluster,
        condition_before_drying AS condition,
        coalesce(exposure, 'unknown') AS exposure,
        coalesce(delay_band, 'unknown') AS delay_band,
        coalesce(device_style, 'unknown') AS device_style,
        coalesce(power_source, 'unknown') AS power_source,
        coalesce(device_age_band, 'unknown') AS device_age_band,
        CASE ((month(a.local_date) + if(t.latitude < 0, 6, 0)) % 12) // 3
            WHEN 0 THEN 'winter'
            WHEN 1 THEN 'spring'
            WHEN 2 THEN 'summer'
            WHEN 3 THEN 'autumn'
        END AS season,
        condition_after,
        rows_counted,
        if(s.is_in, 'headline', 'left_out') AS any_order
    FROM headline_aid AS a
    INNER JOIN analysis_set AS s
        ON s.measure = 'measured_change' AND s.site_id = a.site_id
        AND s.quarter = date_trunc('quarter', a.local_date)::DATE
    LEFT JOIN site AS t ON t.site_id = a.site_id
    WHERE
        a.treatment = 'dried' AND a.is_first_cycle AND NOT a.is_outside_rates
        AND a.rows_counted <> 'before_period'
)

SELECT
    'dead_sounds_again' AS outcome,
    * EXCLUDE (condition_after, any_order),
    is_rescued('sounds_again', condition_after) AS has_event
FROM dried
WHERE condition = 'dead' AND condition_after IS NOT NULL
UNION ALL BY NAME
SELECT
    'weak_back_to_normal' AS outcome,
    * EXCLUDE (condition_after, any_order),
    is_rescued('back_to_normal', condition_after) AS has_event
FROM dried
WHERE condition = 'weak' AND condition_after IS NOT NULL
UNION ALL BY NAME
SELECT
    'not_assessed' AS outcome,
    * EXCLUDE (condition_after, any_order) REPLACE (any_order AS rows_counted),
    condition_after IS NULL AS has_event
FROM dried
