-- Grain: one row per measure and style, dried aids alone.
-- Denominator: aids that may be compared and were dried, measured before and after and still
-- working; `low` are those whose first reading was worse than the style's median.
-- State: sums by measure, device_style.
WITH reading AS (
    SELECT
        r.*,
        if(r.measure = 'thd', r.before::DOUBLE > m.median, r.before::DOUBLE < m.median) AS is_low
    FROM routine_reading AS r
    JOIN routine_middle AS m ON m.measure = r.measure AND m.device_style = r.device_style
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
    GROUP BY ALL
)

SELECT
    measure,
    device_style,
    sum(n)::BIGINT AS n,
    count(*) AS wearers,
    sum(before) AS before,
    sum(squares) AS squares,
    sum(low_n)::BIGINT AS low_n,
    count(*) FILTER (WHERE low_n > 0) AS low_wearers,
    sum(low_before) AS low_before,
    sum(low_change) AS low_change,
    sum(low_n * low_n)::BIGINT AS low_nn,
    sum((low_change * low_change)::DECIMAL(24, 6)) AS low_yy,
    sum((low_n * low_change)::DECIMAL(24, 6)) AS low_ny
FROM by_wearer
GROUP BY measure, device_style
ORDER BY measure, device_style
