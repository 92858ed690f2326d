-- Grain: one row per style, band of days since the last drying (null: any), climate group, season,
-- reading, whether it is below detection, and detection limit: how many wearers read so.
-- Denominator: the visits of moisture_visit; at most 5000 wearers of a style and band, drawn by a
-- hash of the wearer.
-- State: whole, 5000 wearers of a style and band are drawn by rank.
WITH chosen AS (
    SELECT *
    FROM moisture_visit
    QUALIFY
        row_number() OVER (PARTITION BY device_style, days_since_dry_band ORDER BY wearer) <= 5000
)

SELECT
    device_style, days_since_dry_band, climate_group, season, value_ul, is_below, limit_ul,
    count(*) AS wearers
FROM chosen
GROUP BY ALL
ORDER BY ALL
