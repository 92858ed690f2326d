-- Grain: one row per site: which of its rows are compared, the first that its dried aids have:
-- 'headline', in the analysis set of measured_change and the headline's order of measurements;
-- 'other_order', where those are the more; 'left_out', where every quarter of the site is out.
-- Denominator: that of worsening_rows.
-- State: whole, made from worsening_rows.
WITH counted AS (
    SELECT
        site_id,
        coalesce(sum(n) FILTER (WHERE stratum = 'headline'), 0) AS headline,
        coalesce(sum(n) FILTER (WHERE stratum = 'other_order'), 0) AS other_order
    FROM worsening_rows
    GROUP BY ALL
)

SELECT
    site_id,
    {larger_stratum}
FROM counted
