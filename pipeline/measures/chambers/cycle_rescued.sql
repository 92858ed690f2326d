-- Grain: one row per condition before drying, third of moisture and ten minutes, with sums over
-- wearers: n aids, k of them rescued.
-- Denominator: aids of cycle_placed.
-- State: sums of wearers by condition_before, moisture_third, minutes.
WITH wearer AS (
    SELECT
        condition_before, moisture_third, minutes, wearer_key, count(*) AS n,
        count_if(is_headline_rescue(condition_before, condition_after)) AS y
    FROM cycle_placed
    GROUP BY ALL
)

SELECT condition_before, moisture_third, minutes, {cycle_sums}
FROM wearer
GROUP BY ALL
