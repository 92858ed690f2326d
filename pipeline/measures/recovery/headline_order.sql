-- Grain: one row: whether a tenth of the group's aids have their order of work recorded, by their
-- grades and by their measures before.
-- Denominator: that of headline_sums.
-- State: whole, made from headline_sums.
SELECT
    problem_aids = 0 OR problem_aids_recorded / problem_aids >= 0.1 AS is_recorded,
    measured_aids = 0 OR measured_aids_recorded / measured_aids >= 0.1 AS is_measured_recorded
FROM headline_sums
