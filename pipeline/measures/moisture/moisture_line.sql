-- Grain: one row per aids in the load, grouping and group, of corrected readings.
-- Denominator: the loads used by moisture_distribution on the basis 'corrected'. The lines of one
-- chamber since one service share their checks, so their errors count as one; those of different
-- chambers or services are independent. A median m whose group has n loads then has the variance
-- (constant + linear·m + square·m²)/n² from the lines: sums over chambers of P², 2ρPQ and Q², where
-- P and Q add up what a standard error of the intercept and of the slope moves.
-- State: whole, made from moisture_line_chamber.
WITH chamber AS (
    SELECT
        grouping_id,
        {moisture_group},
        if(loads_of_one > 0, p1, NULL)::DOUBLE AS p1,
        if(loads_of_two > 0, p2, NULL)::DOUBLE AS p2,
        if(loads_of_one > 0, q1, NULL)::DOUBLE AS q1,
        if(loads_of_two > 0, q2, NULL)::DOUBLE AS q2,
        (1000000 * correlations)::BIGINT / (1000000 * loads) AS correlation
    FROM moisture_line_chamber
),

by_aids AS (
    SELECT
        * EXCLUDE (p1, p2, q1, q2),
        unnest([0, 1, 2]) AS aids,
        unnest([coalesce(p1, 0) + coalesce(p2, 0), p1, p2]) AS p,
        unnest([coalesce(q1, 0) + coalesce(q2, 0), q1, q2]) AS q
    FROM chamber
)

SELECT
    true AS is_corrected,
    aids,
    hash(grouping_id, {moisture_group}) AS cell,
    sum(round(p * p, 6)::DECIMAL(30, 6)) AS constant,
    sum(round(2 * correlation * p * q, 6)::DECIMAL(30, 6)) AS linear,
    sum(round(q * q, 6)::DECIMAL(30, 6)) AS square
FROM by_aids
WHERE p IS NOT NULL
GROUP BY ALL
ORDER BY ALL
