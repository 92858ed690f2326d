-- Grain: one row.
-- Denominator: aids that may be compared, every one that was treated, and what became of them;
-- treated, assessed and stopped count all, dried_assessed_squares is Σn² over clusters of wearers; out_of_set and without_other those left out;
-- the rest the aids in site-quarters of both arms.
-- State: sums.
SELECT
    count(*) FILTER (WHERE arm = 1) AS dried_treated,
    count(*) FILTER (WHERE arm = 0) AS cleaned_treated,
    count(*) FILTER (WHERE arm = 1 AND is_stopped) AS dried_stopped,
    count(*) FILTER (WHERE arm = 0 AND is_stopped) AS cleaned_stopped,
    count(*) FILTER (WHERE arm = 1 AND is_assessed) AS dried_assessed,
    (
        SELECT coalesce(sum(n * n), 0)::BIGINT
        FROM (
            SELECT count(*) AS n FROM comparison_aid WHERE arm = 1 AND is_assessed
            GROUP BY wearer_cluster
        )
    ) AS dried_assessed_squares,
    count(*) FILTER (WHERE arm = 1 AND NOT is_in) AS dried_out_of_set,
    count(*) FILTER (WHERE arm = 0 AND NOT is_in) AS cleaned_out_of_set,
    count(*) FILTER (WHERE arm = 1 AND is_in AND NOT is_compared) AS dried_without_other,
    count(*) FILTER (WHERE arm = 0 AND is_in AND NOT is_compared) AS cleaned_without_other,
    count(*) FILTER (WHERE arm = 1 AND has_outcome) AS dried_outcomes,
    count(*) FILTER (WHERE arm = 0 AND has_outcome) AS cleaned_outcomes,
    count(*) FILTER (WHERE arm = 1 AND is_compared) AS dried_compared,
    count(*) FILTER (WHERE arm = 0 AND is_compared) AS cleaned_compared,
    count(*) FILTER (WHERE arm = 1 AND is_compared AND NOT has_outcome) AS dried_not_measured,
    count(*) FILTER (WHERE arm = 0 AND is_compared AND NOT has_outcome) AS cleaned_not_measured,
    count(*) FILTER (WHERE arm = 1 AND is_compared AND NOT is_assessed) AS dried_no_after,
    count(*) FILTER (WHERE arm = 0 AND is_compared AND NOT is_assessed) AS cleaned_no_after,
    count(*) FILTER (WHERE arm = 1 AND is_compared AND is_grade_different) AS dried_grade_different,
    count(*) FILTER (WHERE arm = 0 AND is_compared AND is_grade_different)
        AS cleaned_grade_different,
    count(*) FILTER (WHERE arm = 1 AND is_compared AND before_measured_when = 'after_cleaning')
        AS dried_after_cleaning,
    count(*) FILTER (WHERE arm = 0 AND is_compared AND before_measured_when = 'after_cleaning')
        AS cleaned_after_cleaning,
    coalesce(sum(minutes_per_aid::DECIMAL(18, 6)) FILTER (WHERE arm = 1 AND is_compared), 0)
        AS minutes,
    count(minutes_per_aid) FILTER (WHERE arm = 1 AND is_compared) AS with_minutes
FROM comparison_aid
