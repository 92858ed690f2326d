-- Grain: one row per style, band of days since the last drying (null: any) and wearer, who is told by
-- a hash, with one visit: its climate group, season, reading and detection limit.
-- Denominator: the loads of moisture_peer whose chamber was in tolerance or correctable; of a
-- wearer's visits one per style and band, drawn by a hash of the session.
-- State: sums of wearers by device_style, days_since_dry_band, wearer, climate_group, season,
-- value_ul, is_below, limit_ul.
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
)

SELECT
    device_style,
    days_since_dry_band,
    concat('0x', left(md5(wearer_key), 16))::UBIGINT AS wearer,
    unnest(seen),
    1 AS wearers
FROM visit
