-- Grain: one row per site and quarter.
-- Denominator: aids of comparison_eligible, of a plan to the week in which both arms have the planned
-- number, in the analysis set and graded or measured afterwards.
-- State: sums of wearers by site_id, quarter.
SELECT
    e.site_id,
    date_trunc('quarter', e.week)::DATE AS quarter,
    count(*) FILTER (WHERE e.arm = 1) AS dried,
    count(*) FILTER (WHERE e.arm = 0) AS cleaned
FROM comparison_eligible AS e
CROSS JOIN comparison_reached AS r
WHERE e.is_in AND e.is_assessed AND (r.week IS NULL OR e.week <= r.week)
GROUP BY ALL
