-- Grain: one row per site and week, in order.
-- Denominator: compared aids measured before and after, at sites with both arms.
SELECT
    site_id,
    week,
    count(*) FILTER (WHERE arm = 1) AS dried,
    count(*) FILTER (WHERE arm = 0) AS cleaned
FROM comparison_aid
WHERE
    is_measured
    AND site_id IN (SELECT site_id FROM comparison_aid WHERE is_measured
        GROUP BY site_id HAVING min(arm) < max(arm))
GROUP BY site_id, week
ORDER BY site_id, week
