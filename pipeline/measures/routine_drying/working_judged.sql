-- The step of working_outcome and of what reads the same rows from another view, `aid`.
treated AS (
    SELECT
        *,
        (treatment = 'dried')::INTEGER AS arm,
        coalesce(condition_after = 'weak' AND measured_change IN ('improved', 'unchanged'), false)
            AS is_grade_different
    FROM aid
    WHERE
        condition_before_drying = 'normal' AND NOT is_outside_rates
        AND (treatment = 'cleaned_only' OR is_first_cycle)
),

graded AS (
    SELECT
        *,
        coalesce(condition_after <> 'normal', false) AND NOT is_grade_different AS is_stopped,
        condition_after IS NOT NULL OR measured_change IS NOT NULL AS is_assessed
    FROM treated
),

judged AS (
    SELECT
        *,
        is_assessed AND measured_change IS NOT NULL AND NOT is_stopped AS is_measured,
        CASE
            WHEN is_stopped THEN 'stopped'
            WHEN measured_change IS NULL THEN 'not_measured'
            ELSE measured_change
        END AS outcome
    FROM graded
)
