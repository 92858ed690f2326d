-- The same as a table, styles down and exposures across. PIVOT turns the words of one column into
-- columns; name the words with IN, so that the table keeps its columns whatever was loaded.
PIVOT (
    SELECT device_style, exposure, is_rescued('sounds_again', condition_after) AS sounds_again
    FROM session_aid
    WHERE treatment = 'dried' AND condition_before_drying = 'dead' AND condition_after IS NOT NULL
        AND is_first_cycle AND NOT is_outside_rates
)
ON exposure IN ('immersion', 'splash', 'perspiration', 'none_known')
USING count(*) AS n, round(avg(sounds_again::INTEGER), 2) AS share
GROUP BY device_style
ORDER BY device_style
