-- Grain: one row per working aid that was treated: first cycles of dried aids, and cleaned-only
-- aids. Each has exactly one outcome.
-- Denominator: working before drying, inside the rates, measured or not.
-- Stopped: graded other than working afterwards, but weak only where no pair of measures, taken
-- with the same box and settings, shows that it is not worse: then the pair decides and the row
-- counts as `is_grade_different`. is_assessed: graded or measured afterwards. is_measured: both
-- measured and not stopped. Outcomes: stopped, improved, worsened, mixed, unchanged, not_measured.
WITH treated AS (
    SELECT
        file_id,
        line,
        part_of_line,
        site_id,
        wearer_key,
        device_key,
        local_date,
        month,
        treatment,
        (treatment = 'dried')::INTEGER AS arm,
        test_box_id,
        measured_settings,
        condition_after,
        measured_change,
        coalesce(condition_after = 'weak' AND measured_change IN ('improved', 'unchanged'), false)
            AS is_grade_different
    FROM session_aid
    WHERE
        condition_before_drying = 'normal' AND NOT is_outside_rates
        AND (treatment = 'cleaned_only' OR is_first_cycle)
),

judged AS (
    SELECT
        *,
        coalesce(condition_after <> 'normal', false) AND NOT is_grade_different AS is_stopped,
        condition_after IS NOT NULL OR measured_change IS NOT NULL AS is_assessed
    FROM treated
)

SELECT
    *,
    is_assessed AND measured_change IS NOT NULL AND NOT is_stopped AS is_measured,
    CASE
        WHEN is_stopped THEN 'stopped'
        WHEN measured_change IS NULL THEN 'not_measured'
        ELSE measured_change
    END AS outcome
FROM judged
