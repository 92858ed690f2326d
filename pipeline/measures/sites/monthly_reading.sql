-- Grain: one row per month, reading and whether it is below detection, over all sites.
-- Denominator: complete one-aid loads of moisture_load with a corrected reading.
-- State: whole, made from moisture_month.
SELECT month, value_hundredths_ul, is_below, sum(n)::BIGINT AS n
FROM moisture_month
WHERE is_corrected AND value_hundredths_ul IS NOT NULL
GROUP BY ALL
ORDER BY month, value_hundredths_ul, is_below
