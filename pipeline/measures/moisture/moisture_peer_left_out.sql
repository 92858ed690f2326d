-- Grain: one row per style and band of days since the last drying (null: any).
-- Denominator: the loads of moisture_peer that no centile uses, by reason.
-- State: sums of wearers by device_style, days_since_dry_band.
SELECT
    device_style,
    days_since_dry_band,
    count(*) FILTER (fate = 'uncalibrated') AS left_out_uncalibrated,
    count(*) FILTER (fate = 'incomplete') AS left_out_incomplete,
    count(*) FILTER (fate = 'no limit') AS left_out_no_limit
FROM moisture_peer
GROUP BY GROUPING SETS ((device_style), (device_style, days_since_dry_band))
ORDER BY ALL
