-- How many dead aids were dried each month, and how many sounded again? Wilson limits in SQL.
WITH counted AS (
    SELECT month, count(*) AS n, count(*) FILTER (WHERE is_rescued('sounds_again', condition_after)) AS sounds_again
    FROM session_aid
    WHERE treatment = 'dried' AND condition_before_drying = 'dead'
        AND condition_after IS NOT NULL AND is_first_cycle AND NOT is_outside_rates
    GROUP BY month
)
SELECT month, n, sounds_again, round(wilson_low(sounds_again, n), 3) AS low,
    round(wilson_high(sounds_again, n), 3) AS high
FROM counted
ORDER BY month
