-- Grain: one row per chamber.
-- Denominator: rows of the chambers table that count.
SELECT
    p.site_id,
    p.dryer_id,
    p.installed_on,
    p.removed_on,
    p.detection_limit_ul,
    coalesce(p.dose_tolerance_pct, 10) AS dose_tolerance_pct,
    coalesce(p.dose_tolerance_floor_ul, 0.2) AS dose_tolerance_floor_ul,
    p.stated_cycle_minutes,
    p.reading_principle,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_dryers AS p
