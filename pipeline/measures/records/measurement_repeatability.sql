-- Grain: one row per measure and test box, and one per measure over all boxes (grouping_id 3).
-- Denominator: repeat pairs with both values; distortion as natural log of percent, floor 0.1 %.
-- State: whole, a few rows of repeat pairs.
WITH pair AS (
    SELECT
        site_id,
        test_box_id,
        unnest(['hfa_gain', 'hfa_ospl90', 'ein', 'thd']) AS measure,
        unnest([
            second_hfa_gain_db - first_hfa_gain_db,
            second_hfa_ospl90_db_spl - first_hfa_ospl90_db_spl,
            second_ein_db_spl - first_ein_db_spl,
            ln(if(second_thd_pct < 0.1, 0.1, second_thd_pct)) - ln(if(first_thd_pct < 0.1, 0.1, first_thd_pct))
        ]) AS difference
    FROM repeat_measurement
)

SELECT
    measure,
    site_id,
    test_box_id,
    grouping_id(site_id, test_box_id) AS grouping_id,
    count(*) AS pairs,
    sum(difference::DECIMAL(18, 9))::DOUBLE AS sum_d,
    sum((difference ** 2)::DECIMAL(18, 9))::DOUBLE AS sum_dd
FROM pair
WHERE difference IS NOT NULL
GROUP BY GROUPING SETS ((measure), (measure, site_id, test_box_id))
HAVING grouping_id = 3 OR test_box_id IS NOT NULL
ORDER BY ALL
