-- How many dead aids were dried each month, and how many sounded again? Wilson limits in SQL.
SELECT date_trunc('month', local_date)::DATE AS month, count(*) AS n,
    count(*) FILTER (WHERE condition_after <> 'dead') AS sounds_again,
    round(wilson_low(count(*) FILTER (WHERE condition_after <> 'dead'), count(*)), 3) AS low,
    round(wilson_high(count(*) FILTER (WHERE condition_after <> 'dead'), count(*)), 3) AS high
FROM session_aid
WHERE treatment = 'dried' AND condition_before_drying = 'dead' AND condition_after IS NOT NULL
    AND is_first_cycle AND NOT is_outside_rates
GROUP BY month
ORDER BY month
