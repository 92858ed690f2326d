-- Every dose check with water, newest first: given, read, error and whether it was in tolerance.
SELECT site_id, dryer_id, local_date, replicate, dose_ul, reading_ul, round(error_ul, 2) AS error_ul,
    round(tolerance_ul, 2) AS tolerance_ul, is_within_tolerance
FROM dose_check
WHERE dose_ul > 0
ORDER BY local_date DESC, site_id, dryer_id, replicate
LIMIT 50
