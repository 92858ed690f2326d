-- Grain: one row per measure and style, dried aids alone.
-- Denominator: aids that may be compared and were dried, measured before and after and still
-- working; `low` are those whose first reading was worse than the style's median. treated and
-- stopped count every dried aid of the style: what stopped has no change to be drawn.
WITH reading AS (
    SELECT 'hfa_gain' AS measure, device_style, wearer_cluster,
        hfa_gain_before_db::DECIMAL(18, 6) AS before, hfa_gain_after_db::DECIMAL(18, 6) AS after,
        hfa_gain_before_db < median(hfa_gain_before_db) OVER (PARTITION BY device_style) AS is_low
    FROM comparison_aid
    WHERE is_in AND arm = 1 AND hfa_gain_change IS NOT NULL AND NOT is_stopped
    UNION ALL BY NAME
    SELECT 'hfa_ospl90' AS measure, device_style, wearer_cluster,
        hfa_ospl90_before_db_spl::DECIMAL(18, 6) AS before,
        hfa_ospl90_after_db_spl::DECIMAL(18, 6) AS after,
        hfa_ospl90_before_db_spl
        < median(hfa_ospl90_before_db_spl) OVER (PARTITION BY device_style) AS is_low
    FROM comparison_aid
    WHERE is_in AND arm = 1 AND hfa_ospl90_change IS NOT NULL AND NOT is_stopped
    UNION ALL BY NAME
    SELECT 'thd' AS measure, device_style, wearer_cluster,
        thd_before_log::DECIMAL(18, 6) AS before, thd_after_log::DECIMAL(18, 6) AS after,
        thd_before_log > median(thd_before_log) OVER (PARTITION BY device_style) AS is_low
    FROM comparison_aid
    WHERE is_in AND arm = 1 AND thd_change IS NOT NULL AND NOT is_stopped
),

by_wearer AS (
    SELECT
        measure,
        device_style,
        wearer_cluster,
        count(*) AS n,
        sum(before) AS before,
        sum((before * before)::DECIMAL(24, 6)) AS squares,
        count(*) FILTER (WHERE is_low) AS low_n,
        coalesce(sum(before) FILTER (WHERE is_low), 0) AS low_before,
        coalesce(sum(after - before) FILTER (WHERE is_low), 0) AS low_change
    FROM reading
    WHERE device_style IS NOT NULL
    GROUP BY ALL
),

treated AS (
    SELECT
        device_style,
        count(*) AS treated,
        count(*) FILTER (WHERE is_stopped) AS stopped
    FROM comparison_aid
    WHERE is_in AND arm = 1
    GROUP BY device_style
)

SELECT
    measure,
    device_style,
    any_value(t.treated) AS treated,
    any_value(t.stopped) AS stopped,
    sum(n)::BIGINT AS n,
    count(*) AS wearers,
    sum(before)::DOUBLE AS before,
    sum(squares)::DOUBLE AS squares,
    sum(low_n)::BIGINT AS low_n,
    count(*) FILTER (WHERE low_n > 0) AS low_wearers,
    sum(low_before)::DOUBLE AS low_before,
    sum(low_change)::DOUBLE AS low_change,
    sum(low_n * low_n)::BIGINT AS low_nn,
    sum((low_change * low_change)::DECIMAL(24, 6))::DOUBLE AS low_yy,
    sum((low_n * low_change)::DECIMAL(24, 6))::DOUBLE AS low_ny
FROM by_wearer
JOIN treated AS t USING (device_style)
GROUP BY measure, device_style
ORDER BY measure, device_style
