-- Grain: one row per condition before drying: what the model of delay cannot use.
-- Denominator: as in rescue_model, without asking for the hours and the condition afterwards.
-- State: sums of wearers by condition_before.
SELECT
    condition_before_drying AS condition_before,
    count(*) FILTER (WHERE condition_after IS NULL) AS not_assessed,
    count(*) FILTER (WHERE condition_after IS NOT NULL AND hours_since_exposure IS NULL)
        AS delay_not_recorded
FROM headline_aid
WHERE
    rows_counted = 'headline'
    AND treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
    AND condition_before_drying <> 'normal'
    AND exposure IN ('immersion', 'splash')
GROUP BY ALL
ORDER BY ALL
