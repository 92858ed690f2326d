-- Grain: one row: the changes that count and the tolerances over all boxes.
-- Denominator: that of change_needed.
-- State: whole, one row of a small table.
SELECT * EXCLUDE (site_id, test_box_id)
FROM ({change_needed})
WHERE test_box_id IS NULL
