-- Grain: one row per condition before drying: the readings that part its aids in thirds.
-- Denominator: that of cycle_reading.
-- State: whole, made from cycle_reading.
WITH summed AS (
    SELECT
        condition_before,
        reading,
        sum(n) OVER (PARTITION BY condition_before)::DOUBLE AS all_n,
        sum(n) OVER (PARTITION BY condition_before ORDER BY reading) AS up_to
    FROM cycle_reading
)

SELECT
    condition_before,
    -- As quantile_disc counts: the least reading up to which there are that many.
    min(reading) FILTER (WHERE up_to >= greatest(1, all_n - floor(all_n - all_n * (1 / 3))))
        AS first_third,
    min(reading) FILTER (WHERE up_to >= greatest(1, all_n - floor(all_n - all_n * (2 / 3))))
        AS second_third
FROM summed
GROUP BY condition_before
