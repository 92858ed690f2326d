-- Grain: one row per clinic.
-- Denominator: rows of the sites table that count; its climate comes from its normals.
SELECT
    p.site_id,
    p.site_name,
    p.latitude,
    p.longitude,
    p.elevation_m,
    p.time_zone,
    p.opened_on,
    p.closed_on,
    p.successor_site_id,
    p.open_days_per_week,
    coalesce(c.climate, 'climate not given') AS climate,
    CASE left(coalesce(c.climate, '-'), 1)
        WHEN 'A' THEN 'tropical'
        WHEN 'B' THEN 'arid'
        WHEN 'C' THEN 'temperate'
        WHEN 'D' THEN 'continental'
        WHEN 'E' THEN 'polar'
        ELSE 'climate not given'
    END AS climate_group,
    coalesce(c.climate LIKE 'A%', false) OR coalesce(abs(p.latitude) <= 10, false) AS has_wet_and_dry_season,
    NULL::DATE AS last_local_date,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_sites AS p
LEFT JOIN site_climate AS c ON c.site_id = p.site_id
