-- Grain: one row per population, site and quarter with a row of it: its rows and its aids.
-- Denominator: named by population, all inside the rates: problem_aid, first dried sessions of an
-- episode of aids dead, weak or with another fault before drying; wet_aid, those of them immersed
-- or splashed, with the hours since and the condition afterwards; working_aid, such sessions of
-- aids normal before drying; comparison_aid, dried and cleaned-only aids of routine_drying.
-- State: sums of wearers by site_id, quarter, population.
WITH aid AS (
    SELECT
        site_id,
        date_trunc('quarter', local_date)::DATE AS quarter,
        hash(device_key) AS aid,
        is_first_cycle AND treatment = 'dried' AND condition_before_drying <> 'normal'
            AS is_problem_aid,
        is_first_cycle AND treatment = 'dried' AND condition_before_drying <> 'normal'
        AND exposure IN ('immersion', 'splash') AND hours_since_exposure IS NOT NULL
        AND condition_after IS NOT NULL AS is_wet_aid,
        is_first_cycle AND treatment = 'dried' AND condition_before_drying = 'normal'
            AS is_working_aid,
        visit_reason = 'clean_and_check'
        AND condition_before = 'normal' AND condition_before_drying = 'normal'
        AND coalesce(exposure, 'none_known') = 'none_known' AND coalesce(len(symptoms), 0) = 0
        AND (treatment = 'cleaned_only' OR is_first_cycle) AND hfa_gain_before_db IS NOT NULL
            AS is_comparison_aid
    FROM session_aid
    WHERE NOT is_outside_rates
),

long AS (
    UNPIVOT aid
    ON is_problem_aid, is_wet_aid, is_working_aid, is_comparison_aid
    INTO NAME population VALUE is_in
)

SELECT
    site_id,
    quarter,
    substr(population, 4) AS population,
    count(*) AS rows,
    count(DISTINCT aid) AS aids
FROM long
WHERE is_in
GROUP BY ALL
ORDER BY ALL
