-- Grain: one row per measure, style and reading before of dried aids.
-- Denominator: that of routine_before_after.
-- State: sums of wearers by measure, device_style, before.
SELECT measure, device_style, before, count(*) AS n
FROM routine_reading
GROUP BY ALL
