-- Grain: one row per site and week.
-- Denominator: aids that may be compared and are in the analysis set.
-- State: sums of wearers by site_id, week.
SELECT
    site_id,
    week,
    count(*) FILTER (WHERE arm = 1) AS dried,
    count(*) FILTER (WHERE arm = 0) AS cleaned
FROM comparison_aid
WHERE is_in
GROUP BY site_id, week
