-- Grain: one row per coupler measure.
-- Denominator: the within-aid deviation in force over all test boxes.
-- State: whole, a few rows of another measure.
SELECT measure, within_sd
FROM measurement_repeatability
WHERE test_box_id IS NULL
ORDER BY measure
