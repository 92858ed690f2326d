-- Which chambers in use want something done, and when were they last checked?
SELECT site_id, dryer_id, standing, checks_in_180_days, last_checked_on,
    round(mean_error_pct, 1) AS mean_error_pct
FROM dryer_calibration
WHERE removed_on IS NULL AND standing <> 'in_tolerance'
ORDER BY site_id, dryer_id
