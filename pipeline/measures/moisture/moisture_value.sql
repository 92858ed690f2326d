-- Grain: one row per basis, aids in the load, reading and whether it is below detection.
-- Denominator: the loads of moisture_load with a reading.
-- State: sums of wearers by is_corrected, aids, value_hundredths_ul, below.
SELECT is_corrected, aids, value_hundredths_ul, below, count(*) AS loads
FROM moisture_load
WHERE value_hundredths_ul IS NOT NULL
GROUP BY ALL
