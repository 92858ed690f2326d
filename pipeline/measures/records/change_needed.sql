-- Grain: one row per test box of a site and one over all boxes (null box): the change of each
-- deciding measure that counts, of an aid with all three of them or with two, and its tolerance.
-- Denominator: the rows of measurement_repeatability.
SELECT
    site_id,
    test_box_id,
    max(change_needed) FILTER (WHERE measure = 'hfa_gain') AS gain_of_three,
    max(change_needed) FILTER (WHERE measure = 'hfa_ospl90') AS ospl90_of_three,
    max(change_needed) FILTER (WHERE measure = 'thd') AS thd_of_three,
    max(change_needed_of_two) FILTER (WHERE measure = 'hfa_gain') AS gain_of_two,
    max(change_needed_of_two) FILTER (WHERE measure = 'hfa_ospl90') AS ospl90_of_two,
    max(change_needed_of_two) FILTER (WHERE measure = 'thd') AS thd_of_two,
    max(tolerance) FILTER (WHERE measure = 'hfa_gain') AS gain_tolerance,
    max(tolerance) FILTER (WHERE measure = 'hfa_ospl90') AS ospl90_tolerance
FROM measurement_repeatability
GROUP BY ALL
