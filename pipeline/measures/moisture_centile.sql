-- Grain: one row per style, band of days since the last drying (null: any), climate group, season,
-- reading, whether it is below detection, and detection limit: how many wearers read so.
-- Denominator: aids seen at clean-and-check, working before drying, no known exposure, dried
-- before; loads of one aid and nothing else, complete, in a chamber in tolerance or correctable.
-- One visit per wearer, style and band, drawn by a hash of the session; at most 5000 wearers of a
-- style and band, drawn by a hash of the wearer.
WITH eligible AS (
    SELECT
        device_style,
        days_since_dry_band,
        climate_group,
        season,
        wearer_key,
        md5(session_key) AS drawn,
        coalesce(is_below_detection, false) AS is_below,
        round(
            CASE WHEN is_below THEN moisture_limit_per_aid_ul ELSE moisture_per_aid_ul END, 2
        ) AS value_ul,
        round(moisture_limit_per_aid_ul, 2) AS limit_ul
    FROM session
    WHERE
        treatment = 'dried' AND is_alone AND is_complete AND NOT is_outside_rates
        AND visit_reason = 'clean_and_check' AND condition_before_drying = 'normal'
        AND exposure = 'none_known' AND days_since_dry_band <> 'first_seen'
        AND device_style IS NOT NULL AND device_style NOT IN ('other', 'unknown')
        AND standing IN ('correctable', 'in_tolerance')
),

visit AS (
    SELECT
        device_style,
        days_since_dry_band,
        wearer_key,
        arg_min(
            {
                'climate_group': climate_group, 'season': season, 'value_ul': value_ul,
                'is_below': is_below, 'limit_ul': limit_ul
            },
            drawn
        ) AS seen
    FROM eligible
    WHERE value_ul IS NOT NULL
    GROUP BY
        GROUPING SETS ((device_style, wearer_key), (device_style, days_since_dry_band, wearer_key))
),

chosen AS (
    SELECT device_style, days_since_dry_band, unnest(seen)
    FROM visit
    QUALIFY
        row_number() OVER (
            PARTITION BY device_style, days_since_dry_band ORDER BY md5(wearer_key)
        ) <= 5000
)

SELECT
    device_style, days_since_dry_band, climate_group, season, value_ul, is_below, limit_ul,
    count(*) AS wearers
FROM chosen
GROUP BY ALL
ORDER BY ALL
