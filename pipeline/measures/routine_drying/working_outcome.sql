-- Grain: one row per working aid that was treated: first cycles of dried aids, and cleaned-only
-- aids, with the columns of session_aid. Each has exactly one outcome.
-- Denominator: working before drying, inside the rates, measured or not.
-- Stopped: graded other than working afterwards, but weak only where no pair of measures, taken
-- with the same box and settings, shows that it is not worse: then the pair decides and the row
-- counts as `is_grade_different`. is_assessed: graded or measured afterwards. is_measured: both
-- measured and not stopped. Outcomes: stopped, improved, worsened, mixed, unchanged, not_measured.
WITH aid AS (
    SELECT * FROM session_aid
),

{working_judged}

SELECT * FROM judged
