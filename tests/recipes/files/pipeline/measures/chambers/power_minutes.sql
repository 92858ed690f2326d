-- Grain: one row per power source.
-- Denominator: dried aids whose cycle's length is known.
-- State: sums by power_source.
SELECT
    coalesce(power_source, 'unknown') AS power_source,
    count(*) AS n,
    sum(cycle_minutes::DECIMAL(18, 6)) AS minutes
FROM session_aid
WHERE treatment = 'dried' AND cycle_minutes IS NOT NULL
GROUP BY ALL
