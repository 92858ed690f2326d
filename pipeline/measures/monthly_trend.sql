-- Grain: one row per site and month, and per month over all sites (null site).
-- Denominator: first dried sessions of an episode, inside the rates; graded afterwards for the
-- rescue series, all of problem aids for not_assessed.
SELECT
    site_id,
    month,
    count(*) FILTER (WHERE condition_before_drying = 'dead' AND condition_after IS NOT NULL)
        AS n_dead_sounds_again,
    count(*) FILTER (WHERE condition_before_drying = 'dead' AND condition_after <> 'dead')
        AS k_dead_sounds_again,
    count(*) FILTER (WHERE condition_before_drying = 'weak' AND condition_after IS NOT NULL)
        AS n_weak_back_to_normal,
    count(*) FILTER (WHERE condition_before_drying = 'weak' AND condition_after = 'normal')
        AS k_weak_back_to_normal,
    count(*) AS n_not_assessed,
    count(*) FILTER (WHERE condition_after IS NULL) AS k_not_assessed
FROM session_aid
WHERE
    treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
    AND condition_before_drying <> 'normal'
GROUP BY GROUPING SETS ((site_id, month), (month))
ORDER BY ALL
