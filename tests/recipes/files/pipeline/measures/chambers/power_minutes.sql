-- Grain: one row per power source.
-- Denominator: dried aids whose cycle's length is known.
SELECT
    coalesce(power_source, 'unknown') AS power_source,
    count(*) AS n,
    sum(cycle_minutes) AS minutes
FROM session_aid
WHERE treatment = 'dried' AND cycle_minutes IS NOT NULL
GROUP BY ALL
