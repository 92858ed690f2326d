-- Grain: one row per condition before drying, way of grading and set of wearers with like counts.
-- Denominator: first dried sessions of an episode, inside the rates and in headline_aid's headline,
-- graded afterwards.
-- State: sums of wearers by condition_before, graded_by, n, sounds_again, back_to_normal.
WITH wearer AS (
    SELECT
        wearer_key,
        condition_before_drying AS condition_before,
        CASE
            -- A dead aid cannot be measured before.
            WHEN assessed_after_by = 'coupler_measurement' AND (
                assessed_before_by = 'coupler_measurement' OR condition_before_drying = 'dead'
            ) THEN 'coupler_measurement'
            WHEN 'listening_check' IN (assessed_before_by, assessed_after_by) THEN 'listening_check'
            ELSE 'not_recorded'
        END AS graded_by,
        count(*) AS n,
        count(*) FILTER (WHERE is_rescued('sounds_again', condition_after)) AS sounds_again,
        count(*) FILTER (WHERE is_rescued('back_to_normal', condition_after)) AS back_to_normal
    FROM headline_aid
    WHERE
        rows_counted = 'headline'
        AND treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
        AND condition_before_drying <> 'normal' AND condition_after IS NOT NULL
    GROUP BY ALL
)

SELECT
    condition_before,
    graded_by,
    n,
    sounds_again,
    back_to_normal,
    count(*) AS wearers
FROM wearer
GROUP BY ALL
ORDER BY ALL
