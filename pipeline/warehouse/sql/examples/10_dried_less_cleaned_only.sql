-- Aids that stopped, dried less cleaned only, by site: a difference with Newcombe's limits (as if
-- all were independent; the measure routine_drying allows for wearers and weeks).
WITH arm AS (
    SELECT site_id,
        count(*) FILTER (WHERE treatment = 'dried') AS n1,
        count(*) FILTER (WHERE treatment = 'dried' AND condition_after <> 'normal') AS k1,
        count(*) FILTER (WHERE treatment = 'cleaned_only') AS n0,
        count(*) FILTER (WHERE treatment = 'cleaned_only' AND condition_after <> 'normal') AS k0
    FROM session_aid
    WHERE condition_before_drying = 'normal' AND visit_reason = 'clean_and_check'
        AND condition_after IS NOT NULL AND NOT is_outside_rates
    GROUP BY site_id
)
SELECT site_id, n1 AS dried, k1 AS dried_stopped, n0 AS cleaned, k0 AS cleaned_stopped,
    round(k1 / n1 - k0 / n0, 4) AS difference,
    round(difference_low(k1, n1, k0, n0), 4) AS low,
    round(difference_high(k1, n1, k0, n0), 4) AS high
FROM arm
WHERE n1 > 0 AND n0 > 0
ORDER BY site_id
