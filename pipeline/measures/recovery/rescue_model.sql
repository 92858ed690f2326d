-- Grain: one row per set of wearers who are alike (wearer_pattern, a hash) and pattern of aids that
-- each of them brought.
-- Denominator: first dried sessions of an episode of aids dead, weak or with another fault before
-- drying, inside the rates and in headline_aid's headline, after immersion or splash, with the hours since and the condition
-- afterwards recorded. Wearers are alike whose aids have the same patterns, counts and outcomes.
-- State: sums of wearers by wearer_pattern, site_id, condition_before, exposure, water_kind,
-- device_style, power_source, season, delay_hours, n, sounds_again, back_to_normal.
WITH wet AS (
    SELECT
        wearer_key,
        site_id,
        condition_before_drying AS condition_before,
        exposure,
        coalesce(water_kind, 'not_recorded') AS water_kind,
        device_style,
        coalesce(power_source, 'not_recorded') AS power_source,
        coalesce(season, 'not_recorded') AS season,
        round(hours_since_exposure, 1) AS delay_hours,
        is_rescued('sounds_again', condition_after) AS is_sounding,
        is_rescued('back_to_normal', condition_after) AS is_normal
    FROM headline_aid
    WHERE
        rows_counted = 'headline'
        AND treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
        AND condition_before_drying <> 'normal'
        AND exposure IN ('immersion', 'splash')
        AND hours_since_exposure IS NOT NULL
        AND condition_after IS NOT NULL
),

pattern AS (
    SELECT
        wearer_key,
        site_id,
        condition_before,
        exposure,
        water_kind,
        device_style,
        power_source,
        season,
        delay_hours,
        count(*) AS n,
        count(*) FILTER (WHERE is_sounding) AS sounds_again,
        count(*) FILTER (WHERE is_normal) AS back_to_normal
    FROM wet
    GROUP BY ALL
),

wearer AS (
    SELECT
        list(
            struct_pack(
                site_id := site_id, condition_before := condition_before, exposure := exposure,
                water_kind := water_kind, device_style := device_style,
                power_source := power_source, season := season, delay_hours := delay_hours,
                n := n, sounds_again := sounds_again, back_to_normal := back_to_normal
            )
            ORDER BY
                site_id, condition_before, exposure, water_kind, device_style, power_source,
                season, delay_hours
        ) AS brought
    FROM pattern
    GROUP BY wearer_key
),

alike AS (
    SELECT
        brought,
        count(*) AS wearers
    FROM wearer
    GROUP BY brought
)

SELECT
    hash(brought) AS wearer_pattern,
    wearers,
    unnest(brought, recursive := true)
FROM alike
ORDER BY ALL
