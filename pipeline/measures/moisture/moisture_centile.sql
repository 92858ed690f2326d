-- Grain: one row per style, band of days since the last drying (null: any), climate group, season,
-- reading, whether it is below detection, and detection limit: how many wearers read so.
-- Denominator: the loads of moisture_peer whose chamber was in tolerance or correctable. One visit
-- per wearer, style and band, drawn by a hash of the session; at most 5000 wearers of a style and
-- band, drawn by a hash of the wearer.
-- State: whole, 5000 wearers of a style and band are drawn by rank.
WITH eligible AS (
    SELECT
        device_style,
        days_since_dry_band,
        climate_group,
        season,
        wearer_key,
        md5(session_key) AS drawn,
        is_below,
        round(value_ul, 2) AS value_ul,
        round(limit_ul, 2) AS limit_ul
    FROM moisture_peer
    WHERE fate = 'used'
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
