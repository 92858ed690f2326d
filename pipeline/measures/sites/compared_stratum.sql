-- Grain: one row per outcome and site: which of its rows are compared, the first that it has:
-- 'headline', the analysis set in the headline's order of work (for not_assessed, in any order);
-- 'other_order', where those are the more; 'left_out', where every quarter of the site is out.
-- Denominator: that of compared_rows.
-- State: whole, made from compared_rows.
WITH counted AS (
    SELECT
        outcome,
        site_id,
        coalesce(sum(n) FILTER (WHERE rows_counted = 'headline'), 0) AS headline,
        coalesce(sum(n) FILTER (WHERE rows_counted = 'other_order'), 0) AS other_order
    FROM compared_rows
    GROUP BY ALL
)

SELECT
    outcome,
    site_id,
    {larger_stratum}
FROM counted
