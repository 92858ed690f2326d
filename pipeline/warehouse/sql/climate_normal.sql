-- Grain: one row per clinic and month of the year.
-- Denominator: rows of the normals that count. Wet: at least a twelfth of the year's rain, where
-- all twelve months are given and some rain falls.
SELECT
    p.*,
    CASE
        WHEN count(p.precipitation_mm) OVER year = 12 AND sum(p.precipitation_mm) OVER year > 0
            THEN p.precipitation_mm * 12 >= sum(p.precipitation_mm) OVER year
    END AS is_wet
FROM live_climate_normals AS p
WINDOW year AS (PARTITION BY p.site_id)
