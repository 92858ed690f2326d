-- Grain: one row per site: what does not vary within it.
-- State: of site.
SELECT
    site_id,
    climate_group,
    CASE
        WHEN elevation_m < 500 THEN 'under_500_m'
        WHEN elevation_m < 1500 THEN '500_to_1499_m'
        WHEN elevation_m >= 1500 THEN '1500_m_or_more'
        ELSE 'not_recorded'
    END AS elevation_band
FROM site
ORDER BY site_id
