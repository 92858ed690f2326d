-- Grain: one row per aid whose own record may have changed, with the wearer it names now.
-- Denominator: aids of device files that came or went, but those told once by each side, alike, and
-- by no other file.
-- Placeholders: added, removed and staying, rows of device files; content of one of them.
WITH told AS (
    SELECT site_id, device_id, 'added' AS side, {content} AS content FROM ({added}) AS p
    UNION ALL
    SELECT site_id, device_id, 'removed' AS side, {content} AS content FROM ({removed}) AS p
    UNION ALL
    SELECT site_id, device_id, 'staying' AS side, NULL AS content FROM ({staying}) AS p
),
counted AS (
    SELECT
        site_id,
        device_id,
        count_if(side = 'added') AS added,
        count_if(side = 'removed') AS removed,
        count_if(side = 'staying') AS staying,
        count(DISTINCT content) AS contents
    FROM told
    GROUP BY site_id, device_id
)
SELECT c.site_id, c.device_id, d.patient_id
FROM counted AS c
LEFT JOIN live_devices AS d ON d.site_id = c.site_id AND d.device_id = c.device_id
WHERE
    c.added + c.removed > 0
    AND NOT (c.added = 1 AND c.removed = 1 AND c.staying = 0 AND c.contents = 1)
