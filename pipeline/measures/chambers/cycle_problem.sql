-- Grain: one row per aid: first cycles of problem aids dried alone, graded after, with the minutes
-- known, by tens.
-- Denominator: dried aids inside the rates, in loads that are complete. reading: the moisture; -1
-- where it is below detection.
SELECT
    site_id,
    device_id,
    wearer_key,
    local_date,
    condition_before_drying AS condition_before,
    condition_after,
    disposition,
    CASE WHEN is_below_detection THEN -1 ELSE round(moisture_per_aid_ul, 2) END AS reading,
    (10 * ceil(cycle_minutes / 10))::BIGINT AS minutes
FROM session_aid
WHERE
    treatment = 'dried' AND is_first_cycle AND is_alone AND is_complete AND NOT is_outside_rates
    AND condition_before_drying <> 'normal' AND condition_after IS NOT NULL
    AND cycle_minutes IS NOT NULL
