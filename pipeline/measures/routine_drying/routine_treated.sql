-- Grain: one row per style of dried aids: what stopped has no change to be drawn.
-- Denominator: every aid that may be compared and was dried.
-- State: sums of wearers by device_style.
SELECT
    device_style,
    count(*) AS treated,
    count(*) FILTER (WHERE is_stopped) AS stopped
FROM comparison_aid
WHERE is_in AND arm = 1 AND device_style IS NOT NULL
GROUP BY device_style
ORDER BY device_style
