-- Grain: one row per chamber.
-- Denominator: rows of the chambers table that count.
SELECT
    p.* REPLACE (
        coalesce(p.dose_tolerance_pct, 10) AS dose_tolerance_pct,
        coalesce(p.dose_tolerance_floor_ul, 0.2) AS dose_tolerance_floor_ul
    )
FROM live_dryers AS p
