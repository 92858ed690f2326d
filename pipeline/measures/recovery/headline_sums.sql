-- Grain: one row over everything: how often the order of work was recorded.
-- Denominator: first dried sessions of an episode, inside the rates, of quarters in the analysis
-- set: problem_aids by their grades, measured_aids by their measures before.
-- State: sums of wearers.
SELECT
    count(s.is_order_recorded) FILTER (WHERE s.condition_before_drying <> 'normal') AS problem_aids,
    count(*) FILTER (WHERE s.condition_before_drying <> 'normal' AND s.is_order_recorded)
        AS problem_aids_recorded,
    count(*) FILTER (WHERE s.hfa_gain_before_db IS NOT NULL AND s.is_order_recorded IS NOT NULL)
        AS measured_aids,
    count(*) FILTER (
        WHERE s.hfa_gain_before_db IS NOT NULL AND s.is_order_recorded
            AND coalesce(s.before_measured_when, 'unknown') = 'after_cleaning'
    ) AS measured_aids_recorded
FROM session_aid AS s
INNER JOIN analysis_set AS a
    ON a.measure = if(s.condition_before_drying = 'normal', 'measured_change', 'rescue_rate')
    AND a.site_id = s.site_id
    AND a.quarter = date_trunc('quarter', s.local_date)::DATE
WHERE
    s.treatment = 'dried' AND s.is_first_cycle AND NOT s.is_outside_rates
    AND a.is_in_period AND (a.is_in OR a.reason = 'before_period')
