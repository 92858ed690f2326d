-- Grain: one row per aid, in its third of moisture.
-- Denominator: aids of cycle_problem.
SELECT
    p.*,
    CASE
        WHEN p.reading <= t.first_third THEN 'driest'
        WHEN p.reading <= t.second_third THEN 'middle'
        WHEN p.reading > t.second_third THEN 'wettest'
    END AS moisture_third
FROM cycle_problem AS p
LEFT JOIN cycle_third AS t ON t.condition_before = p.condition_before
