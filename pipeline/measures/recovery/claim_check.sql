-- Grain: one row per condition, definition and unit over everything.
-- Denominator: that of rescue_rate.
-- State: whole, a few rows of another measure.
SELECT
    condition_before,
    definition,
    unit,
    n,
    n_effective,
    rate,
    adjusted_low,
    adjusted_high
FROM rescue_rate
WHERE grouping = 'all'
ORDER BY ALL
