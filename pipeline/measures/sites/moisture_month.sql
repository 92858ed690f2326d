-- Grain: one row per site, month, basis, reading (null: none) and whether it is below detection.
-- Denominator: complete one-aid loads of moisture_load.
-- State: sums of wearers by site_id, month, is_corrected, value_hundredths_ul, is_below.
WITH counted AS (
    SELECT
        site_id AS site_place,
        month,
        is_corrected,
        value_hundredths_ul,
        coalesce(below, false) AS is_below,
        count(*) AS n
    FROM moisture_load
    WHERE aids = 1 AND fate <> 'incomplete'
    GROUP BY ALL
)

SELECT w.site_id[c.site_place] AS site_id, c.* EXCLUDE (site_place)
FROM counted AS c
CROSS JOIN moisture_word AS w
