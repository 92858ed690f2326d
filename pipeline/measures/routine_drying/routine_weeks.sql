-- Grain: one row per site and week, in order.
-- Denominator: aids that may be compared and are in the analysis set, at sites with both arms.
-- State: whole, made from routine_week.
SELECT site_id, week, dried, cleaned
FROM routine_week
QUALIFY
    sum(dried) OVER (PARTITION BY site_id) > 0 AND sum(cleaned) OVER (PARTITION BY site_id) > 0
ORDER BY site_id, week
