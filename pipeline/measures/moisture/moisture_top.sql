-- Grain: one row per basis: the highest limit that a reading lies below; null without any.
-- Denominator: that of moisture_value.
-- State: whole, made from moisture_value.
SELECT is_corrected, max(value_hundredths_ul) FILTER (WHERE below) AS top_hundredths_ul
FROM (FROM moisture_value UNION ALL BY NAME SELECT unnest([true, false]) AS is_corrected)
GROUP BY is_corrected
