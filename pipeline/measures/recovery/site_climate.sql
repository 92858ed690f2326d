-- Grain: one row per site with sessions: its climate group, and its aids.
-- Denominator: rows of session_aid.
-- State: sums of wearers by site_id, climate_group.
SELECT site_id, climate_group, count(*) AS aids
FROM session_aid
GROUP BY ALL
ORDER BY ALL
