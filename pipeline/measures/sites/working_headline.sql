-- Grain: one row per working aid that was treated, graded or measured afterwards.
-- Denominator: aids of working_outcome in the months reported. stratum: measured_rows_counted of
-- headline_aid. is_worse: measured and still working, one deciding measure worse by over 1.5 times
-- the change that counts at the site's own box, and none better. is_own_box: taken with a box of 50
-- repeat pairs or more.
WITH aid AS (
    SELECT * FROM headline_aid WHERE measured_rows_counted <> 'before_period'
),

{working_judged},

own_box AS (
    SELECT site_id, test_box_id
    FROM measurement_repeatability
    WHERE test_box_id IS NOT NULL AND measure = 'hfa_gain' AND pairs >= 50
)

SELECT
    w.site_id,
    w.arm,
    w.measured_rows_counted AS stratum,
    hash(w.wearer_key) AS wearer,
    date_trunc('week', w.local_date)::DATE AS week,
    w.is_stopped,
    w.is_measured,
    w.is_measured AND w.measured_change = 'worsened' AND w.worst_change_ratio > 1.5 AS is_worse,
    b.test_box_id IS NOT NULL AS is_own_box
FROM judged AS w
LEFT JOIN own_box AS b ON b.site_id = w.site_id AND b.test_box_id = w.test_box_id
WHERE w.is_assessed
