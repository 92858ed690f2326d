-- How often does a dead, weak or otherwise faulty aid recover, with limits by wearer?
SELECT condition_before, definition, n, rescued, round(rate, 3) AS rate,
    round(adjusted_low, 3) AS low, round(adjusted_high, 3) AS high, not_assessed
FROM rescue_rate
WHERE grouping = 'all' AND unit = 'first_cycle'
ORDER BY condition_before, definition
