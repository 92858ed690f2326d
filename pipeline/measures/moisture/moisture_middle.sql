-- Grain: one row per basis and aids in the load: the middle reading, the lower of two.
-- Denominator: that of moisture_value.
-- State: whole, made from moisture_value.
WITH counted AS (
    SELECT is_corrected, aids, value_hundredths_ul, sum(loads) AS loads
    FROM moisture_value
    GROUP BY ALL
),

summed AS (
    SELECT
        *,
        sum(loads) OVER (PARTITION BY is_corrected, aids) AS all_loads,
        sum(loads) OVER (PARTITION BY is_corrected, aids ORDER BY value_hundredths_ul) AS up_to
    FROM counted
)

SELECT is_corrected, aids, min(value_hundredths_ul) AS middle_hundredths_ul
FROM summed
WHERE 2 * up_to >= all_loads
GROUP BY ALL
