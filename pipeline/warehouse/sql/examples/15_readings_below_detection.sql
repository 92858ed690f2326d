-- What share of readings is below detection, by site? Such a reading is a limit, never a zero.
SELECT site_id, count(*) AS loads, count(*) FILTER (WHERE is_below_detection) AS below,
    round(below / loads, 3) AS share, min(moisture_limit_ul) AS lowest_limit_ul,
    max(moisture_limit_ul) AS highest_limit_ul
FROM session
WHERE treatment = 'dried' AND is_below_detection IS NOT NULL
GROUP BY site_id
ORDER BY site_id
