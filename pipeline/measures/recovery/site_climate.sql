-- Grain: one row per site with sessions: its climate group.
-- State: of site.
SELECT DISTINCT site_id, climate_group
FROM session_aid
ORDER BY ALL
