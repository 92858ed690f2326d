-- Grain: one row per site and month.
-- Denominator: complete one-aid loads of moisture_load. A series
-- of one site keeps to one basis: corrected where four fifths of its loads have such a reading,
-- else as read throughout. A load below detection may be anything up to its limit; a median that
-- depends on where it lies is null.
-- State: of site.
WITH load AS (
    SELECT
        w.site_id[l.site_id] AS site_id,
        l.month,
        l.is_corrected,
        l.value_hundredths_ul,
        coalesce(l.below, false) AS is_below
    FROM moisture_load AS l
    CROSS JOIN moisture_word AS w
    WHERE l.aids = 1 AND l.fate <> 'incomplete'
),

basis AS (
    SELECT site_id, avg((value_hundredths_ul IS NOT NULL)::INTEGER) >= 0.8 AS is_corrected
    FROM load
    WHERE is_corrected
    GROUP BY site_id
),

followed AS (
    SELECT l.site_id, l.month, l.value_hundredths_ul, l.is_below
    FROM load AS l
    INNER JOIN basis AS b ON b.site_id = l.site_id AND b.is_corrected = l.is_corrected
    WHERE l.value_hundredths_ul IS NOT NULL
),

median AS (
    SELECT
        site_id,
        month,
        count(*) AS n,
        count(*) FILTER (WHERE is_below) AS below_detection,
        quantile_disc(if(is_below, -1, value_hundredths_ul), 0.5) AS least_hundredths_ul,
        quantile_disc(value_hundredths_ul, 0.5) AS most_hundredths_ul
    FROM followed
    GROUP BY site_id, month
)

SELECT
    site_id,
    month,
    n,
    below_detection,
    if(least_hundredths_ul = most_hundredths_ul, least_hundredths_ul / 100, NULL) AS median_ul
FROM median
ORDER BY ALL
