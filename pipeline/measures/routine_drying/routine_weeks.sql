-- Grain: one row per site and week, in order.
-- Denominator: aids that may be compared and are in the analysis set, at sites with both arms.
-- State: of site.
SELECT
    site_id,
    week,
    count(*) FILTER (WHERE arm = 1) AS dried,
    count(*) FILTER (WHERE arm = 0) AS cleaned
FROM comparison_aid
WHERE
    is_in AND site_id IN (
        SELECT site_id FROM comparison_aid WHERE is_in GROUP BY site_id HAVING min(arm) < max(arm)
    )
GROUP BY site_id, week
ORDER BY site_id, week
