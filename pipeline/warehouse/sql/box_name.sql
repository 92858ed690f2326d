-- Grain: one row per test box that its site does not list, with the name it is shown by.
-- Denominator: hashed boxes of every accepted row of sessions and repeat measurements.
-- Placeholder: {read} rows with site_id, stored and day.
SELECT
    site_id,
    stored,
    'box ' || row_number() OVER (PARTITION BY site_id ORDER BY min(day), stored) AS shown
FROM ({read})
WHERE regexp_full_match(stored, '[0-9a-f]{{32}}')
GROUP BY site_id, stored
