-- Grain: one row per site and month.
-- Denominator: complete one-aid loads of moisture_load. A series
-- of one site keeps to one basis: corrected where four fifths of its loads have such a reading,
-- else as read throughout. A load below detection may be anything up to its limit; a median that
-- depends on where it lies is null.
-- State: whole, made from moisture_month.
WITH basis AS (
    SELECT
        site_id,
        coalesce(sum(n) FILTER (WHERE value_hundredths_ul IS NOT NULL), 0) / sum(n) >= 0.8
            AS is_corrected
    FROM moisture_month
    WHERE is_corrected
    GROUP BY site_id
),

followed AS (
    SELECT
        l.site_id,
        l.month,
        l.value_hundredths_ul AS most,
        if(l.is_below, -1, l.value_hundredths_ul) AS least,
        l.is_below,
        l.n
    FROM moisture_month AS l
    INNER JOIN basis AS b ON b.site_id = l.site_id AND b.is_corrected = l.is_corrected
    WHERE l.value_hundredths_ul IS NOT NULL
),

summed AS (
    SELECT
        *,
        sum(n) OVER (PARTITION BY site_id, month) AS all_n,
        sum(n) OVER (PARTITION BY site_id, month ORDER BY least) AS up_to_least,
        sum(n) OVER (PARTITION BY site_id, month ORDER BY most) AS up_to_most
    FROM followed
),

-- The middle reading, the lower of two.
median AS (
    SELECT
        site_id,
        month,
        sum(n)::BIGINT AS n,
        coalesce(sum(n) FILTER (WHERE is_below), 0)::BIGINT AS below_detection,
        min(least) FILTER (WHERE 2 * up_to_least >= all_n) AS least_hundredths_ul,
        min(most) FILTER (WHERE 2 * up_to_most >= all_n) AS most_hundredths_ul
    FROM summed
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
