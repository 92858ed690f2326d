-- Grain: one row per month, reading and whether it is below detection, over all sites.
-- Denominator: complete one-aid loads of moisture_load with a corrected reading.
-- State: sums by month, value_hundredths_ul, is_below.
SELECT month, value_hundredths_ul, coalesce(below, false) AS is_below, count(*) AS n
FROM moisture_load
WHERE aids = 1 AND fate <> 'incomplete' AND is_corrected AND value_hundredths_ul IS NOT NULL
GROUP BY ALL
ORDER BY month, value_hundredths_ul, is_below
