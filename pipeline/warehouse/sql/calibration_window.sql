-- Grain: one row per chamber-day of calibration_day and dose check of the 365 days up to it, since
-- the same service.
SELECT d.day_number, c.check_number
FROM calibration_day AS d
INNER JOIN calibration_check AS c
    ON c.site_id = d.site_id
    AND c.dryer_id = d.dryer_id
    AND c.local_date <= d.known_from
    AND c.local_date > d.known_from - 365
    AND c.served_on IS NOT DISTINCT FROM d.served_on
ORDER BY d.day_number, c.check_number
