-- Grain: one row per event of a chamber.
-- Denominator: rows of the chamber events that count; a row without a site names a chamber whose
-- name no other site has (rule chamber_named_once).
SELECT
    d.site_id,
    p.* EXCLUDE (site_id)
FROM live_dryer_events AS p
JOIN dryer AS d ON d.dryer_id = p.dryer_id AND d.site_id = coalesce(p.site_id, d.site_id)
