-- Grain: one row per aid or dose check and outcome that sites are compared on.
-- Denominator: first cycles of dried aids inside the rates, the outcome known; days on which a
-- chamber was checked with water, within tolerance if every such check was. cluster: the wearer,
-- or the chamber. dose_band: the bands of all the day's doses, each once: a band told as often as
-- it was checked would leave too few days to compare.
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
        if(is_order_recorded, 'recorded', 'unknown') AS order_of_work,
        condition_after,
        measured_change
    FROM session_aid AS a
    LEFT JOIN site AS t ON t.site_id = a.site_id
    WHERE a.treatment = 'dried' AND a.is_first_cycle AND NOT a.is_outside_rates
),

banded_check AS (
    SELECT
        *,
        CASE
            WHEN dose_ul < 2 THEN 'under_2_ul'
            WHEN dose_ul < 5 THEN '2_5_ul'
            WHEN dose_ul < 10 THEN '5_10_ul'
            WHEN dose_ul < 20 THEN '10_20_ul'
            ELSE '20_ul_or_more'
        END AS dose_band
    FROM dose_check
    WHERE dose_ul > 0
),

checked_day AS (
    SELECT
        site_id,
        hash(dryer_id) AS cluster,
        string_agg(DISTINCT dose_band, ';' ORDER BY dose_band) AS dose_band,
        bool_and(is_within_tolerance) AS is_within
    FROM banded_check
    GROUP BY site_id, dryer_id, local_date
),

outcome AS (
    SELECT
        'dead_sounds_again' AS outcome,
        * EXCLUDE (condition, condition_after, measured_change),
        'dead' AS condition,
        'unknown' AS dose_band,
        condition_after <> 'dead' AS has_event
    FROM dried
    WHERE condition = 'dead' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT
        'weak_back_to_normal' AS outcome,
        * EXCLUDE (condition, condition_after, measured_change),
        'weak' AS condition,
        'unknown' AS dose_band,
        condition_after = 'normal' AS has_event
    FROM dried
    WHERE condition = 'weak' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT
        'normal_worsened' AS outcome,
        * EXCLUDE (condition, condition_after, order_of_work, measured_change),
        'normal' AS condition,
        'unknown' AS order_of_work,
        'unknown' AS dose_band,
        measured_change = 'worsened' AS has_event
    FROM dried
    WHERE condition = 'normal' AND measured_change IS NOT NULL
    UNION ALL BY NAME
    SELECT
        'not_assessed' AS outcome,
        * EXCLUDE (condition_after, order_of_work, measured_change),
        'unknown' AS order_of_work,
        'unknown' AS dose_band,
        condition_after IS NULL AS has_event
    FROM dried
    UNION ALL BY NAME
    SELECT
        'dose_check_within_tolerance' AS outcome,
        site_id,
        cluster,
        'unknown' AS condition,
        'unknown' AS exposure,
        'unknown' AS delay_band,
        'unknown' AS device_style,
        'unknown' AS power_source,
        'unknown' AS device_age_band,
        'unknown' AS season,
        'unknown' AS order_of_work,
        dose_band,
        is_within AS has_event
    FROM checked_day
)

SELECT
    outcome,
    site_id,
    cluster,
    condition,
    exposure,
    delay_band,
    device_style,
    power_source,
    device_age_band,
    season,
    order_of_work,
    dose_band,
    hash(
        condition, exposure, delay_band, device_style, power_source, device_age_band, season,
        order_of_work, dose_band
    ) AS pattern,
    has_event
FROM outcome
