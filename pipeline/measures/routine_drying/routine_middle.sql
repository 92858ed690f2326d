-- Grain: one row per measure and style: the median of readings before.
-- Denominator: that of routine_value.
-- State: whole, made from routine_value.
WITH summed AS (
    SELECT
        *,
        sum(n) OVER (PARTITION BY measure, device_style) AS all_n,
        sum(n) OVER (PARTITION BY measure, device_style ORDER BY before) AS up_to
    FROM routine_value
)

SELECT
    measure,
    device_style,
    min(before) FILTER (WHERE 2 * up_to >= all_n)::DOUBLE / 2
    + min(before) FILTER (WHERE 2 * up_to > all_n)::DOUBLE / 2 AS median
FROM summed
GROUP BY ALL
