-- Grain: one row per clinic.
-- Denominator: rows of the sites table that count; its climate comes from its normals.
SELECT
    p.*,
    coalesce(c.climate, '{no_climate}') AS climate,
    CASE left(coalesce(c.climate, '-'), 1) {groups} ELSE '{no_climate}' END AS climate_group,
    coalesce(c.climate LIKE 'A%', false) OR coalesce(abs(p.latitude) <= 10, false) AS has_wet_and_dry_season,
    NULL::DATE AS last_local_date
FROM live_sites AS p
LEFT JOIN site_climate AS c ON c.site_id = p.site_id
