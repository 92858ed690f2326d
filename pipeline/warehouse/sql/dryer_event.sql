-- Grain: one row per event of a chamber.
-- Denominator: rows of the chamber events that count; a chamber's name is looked up in dryers.
SELECT
    d.site_id,
    p.*
FROM live_dryer_events AS p
JOIN dryer AS d ON d.dryer_id = p.dryer_id
