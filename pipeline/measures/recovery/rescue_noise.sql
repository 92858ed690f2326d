-- Grain: one row; repeat pairs by the class that a change of theirs would have had.
-- Denominator: pairs with gain and at least one more deciding measure. Nothing was done between
-- the two, so every class but 'unchanged' is noise.
-- State: whole, a few rows of repeat pairs.
WITH change_needed AS (
    {change_needed}
),

pair AS (
    SELECT
        r.second_hfa_gain_db - r.first_hfa_gain_db AS gain,
        r.second_hfa_ospl90_db_spl - r.first_hfa_ospl90_db_spl AS ospl90,
        ln(if(r.first_thd_pct < 0.1, 0.1, r.first_thd_pct)) - ln(if(r.second_thd_pct < 0.1, 0.1, r.second_thd_pct)) AS thd,
        r.first_ein_db_spl - r.second_ein_db_spl AS ein,
        ospl90 IS NOT NULL AND thd IS NOT NULL AS has_three,
        {change_needed_here}
    FROM repeat_measurement AS r
    CROSS JOIN (SELECT * FROM change_needed WHERE test_box_id IS NULL) AS p
    LEFT JOIN change_needed AS b ON b.site_id = r.site_id AND b.test_box_id = r.test_box_id
),

class AS (
    SELECT
        gain > gain_needed OR coalesce(ospl90 > ospl90_needed, false)
        OR coalesce(thd > thd_needed, false) AS is_up,
        gain < -gain_needed OR coalesce(ospl90 < -ospl90_needed, false)
        OR coalesce(thd < -thd_needed, false) AS is_down,
        gain > 0 OR coalesce(ospl90 > 0, false) OR coalesce(thd > 0, false)
        OR coalesce(ein > 0, false) AS is_any_up,
        gain < 0 OR coalesce(ospl90 < 0, false) OR coalesce(thd < 0, false)
        OR coalesce(ein < 0, false) AS is_any_down
    FROM pair
    WHERE gain IS NOT NULL AND (ospl90 IS NOT NULL OR thd IS NOT NULL)
)

SELECT
    count(*) AS pairs,
    count(*) FILTER (WHERE is_up AND NOT is_down) AS up,
    count(*) FILTER (WHERE is_down AND NOT is_up) AS down,
    count(*) FILTER (WHERE is_up AND is_down) AS mixed,
    count(*) FILTER (WHERE is_any_up) AS any_up,
    count(*) FILTER (WHERE is_any_down) AS any_down
FROM class
