-- Grain: one row per event of an aid.
-- Denominator: service events that count.
SELECT
    p.site_id,
    p.device_id,
    p.occurred_on,
    p.event,
    p.new_device_id,
    p.in_warranty,
    p.cost,
    p.days_without_device,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_service_events AS p
