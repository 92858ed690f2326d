-- Of aids that worked before drying or cleaning, how many no longer did, dried and cleaned only?
SELECT treatment, count(*) AS n,
    count(*) FILTER (WHERE condition_after IN ('dead', 'weak', 'other_fault')) AS stopped,
    rate_text(stopped, n) AS as_words
FROM session_aid
WHERE condition_before_drying = 'normal' AND visit_reason = 'clean_and_check'
    AND condition_after IS NOT NULL AND NOT is_outside_rates
GROUP BY treatment
ORDER BY treatment
