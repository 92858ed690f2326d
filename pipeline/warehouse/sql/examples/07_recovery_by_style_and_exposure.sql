-- How often do dead aids sound again, by style and exposure, where at least 30 were assessed?
SELECT device_style, exposure, count(*) AS n,
    count(*) FILTER (WHERE is_rescued('sounds_again', condition_after)) AS sounds_again,
    rate_text(sounds_again, n) AS as_words
FROM session_aid
WHERE treatment = 'dried' AND condition_before_drying = 'dead' AND condition_after IS NOT NULL
    AND is_first_cycle AND NOT is_outside_rates
GROUP BY device_style, exposure
HAVING n >= 30
ORDER BY device_style, exposure
