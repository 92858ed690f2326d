-- Grain: one row per site and serial that took another's place: the first serial of that aid.
-- Denominator: service events that name the aid that came instead.
WITH RECURSIVE link AS (
    SELECT DISTINCT site_id, device_id, new_device_id
    FROM service_event
    WHERE new_device_id IS NOT NULL AND new_device_id <> device_id
),

later_serial AS (
    SELECT a.site_id, a.device_id AS first_id, a.new_device_id AS device_id
    FROM link AS a
    ANTI JOIN link AS b ON b.site_id = a.site_id AND b.new_device_id = a.device_id
    UNION
    SELECT n.site_id, n.first_id, a.new_device_id
    FROM later_serial AS n
    INNER JOIN link AS a ON a.site_id = n.site_id AND a.device_id = n.device_id
)

SELECT site_id, device_id, min(first_id) AS first_id FROM later_serial GROUP BY ALL
