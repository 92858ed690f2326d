-- Grain: one row per session row that counts of an aid that was cleaned only, and dried before.
-- Denominator: such rows of aids with an id; told is the last day before it on which it was dried.
WITH cleaned_row AS (
    SELECT row_at, site_id, device_id, local_date
    FROM live_row
    WHERE treatment = 'cleaned_only' AND device_id IS NOT NULL
)
SELECT c.row_at, e.local_date AS dried_on
FROM cleaned_row AS c
ASOF JOIN (
    FROM episode_row
    SEMI JOIN cleaned_row USING (site_id, device_id)
) AS e
    ON e.site_id = c.site_id AND e.device_id = c.device_id AND e.local_date < c.local_date
