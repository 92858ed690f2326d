-- Grain: one row: the tolerance of OSPL90.
-- Denominator: the rows of measurement_repeatability.
-- State: whole, one number of a small table.
SELECT max(tolerance) AS ospl90_tolerance
FROM measurement_repeatability
WHERE measure = 'hfa_ospl90'
