-- Grain: one row per site and month, and per month over all sites (null site).
-- Denominator: complete loads of one aid with nothing else in the chamber and a reading, or told
-- to be below detection; over all sites only those of chambers correctable or in tolerance. A load
-- below detection is the least of all; a median among these is null.
WITH load AS (
    SELECT
        site_id,
        month,
        standing IN ('correctable', 'in_tolerance') AS is_trusted,
        coalesce(is_below_detection, false) AS is_below,
        if(coalesce(is_below_detection, false), -1, moisture_per_aid_ul) AS moisture_ul
    FROM session_aid
    WHERE treatment = 'dried' AND is_complete AND is_alone AND aids_in_chamber = 1
),

median AS (
    SELECT
        site_id,
        month,
        count(moisture_ul) AS n,
        count(*) FILTER (WHERE is_below) AS below_detection,
        quantile_disc(moisture_ul, 0.5) AS median_ul
    FROM load
    WHERE moisture_ul IS NOT NULL
    GROUP BY site_id, month
    UNION ALL
    SELECT
        NULL AS site_id,
        month,
        count(moisture_ul) AS n,
        count(*) FILTER (WHERE is_below) AS below_detection,
        quantile_disc(moisture_ul, 0.5) AS median_ul
    FROM load
    WHERE moisture_ul IS NOT NULL AND is_trusted
    GROUP BY month
)

SELECT
    site_id,
    month,
    n,
    below_detection,
    if(median_ul < 0, NULL, median_ul) AS median_ul
FROM median
ORDER BY ALL
