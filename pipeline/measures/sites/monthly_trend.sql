-- Grain: one row per series, site and month, and per month over all sites (null site), with sums
-- over wearers: n aids, k counted, m wearers, Σn², Σk², Σnk, Σk²/n.
-- Denominator: first dried sessions of an episode, inside the rates, of quarters that are in the
-- analysis set or would be but for the period; graded afterwards and of the headline's order of
-- work for the rescue series, all of problem aids for not_assessed, working aids graded or measured
-- afterwards for working_stopped.
-- State: sums of wearers by series, site_id, month.
WITH sound AS (
    SELECT measure, site_id, quarter
    FROM analysis_set
    WHERE is_in OR reason = 'before_period'
),

problem_aid AS (
    SELECT
        s.site_id, s.month, hash(s.wearer_key) AS wearer, s.condition_before_drying,
        s.condition_after, s.is_followed
    FROM headline_aid AS s
    SEMI JOIN sound AS q
        ON q.measure = 'rescue_rate' AND q.site_id = s.site_id
        AND q.quarter = date_trunc('quarter', s.local_date)::DATE
    WHERE
        s.treatment = 'dried' AND s.is_first_cycle AND NOT s.is_outside_rates
        AND s.condition_before_drying <> 'normal'
),

followed AS (
    SELECT
        site_id, month, wearer, 'dead_sounds_again' AS series,
        is_rescued('sounds_again', condition_after) AS is_counted
    FROM problem_aid
    WHERE is_followed AND condition_before_drying = 'dead' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT
        site_id, month, wearer, 'weak_back_to_normal' AS series,
        is_rescued('back_to_normal', condition_after) AS is_counted
    FROM problem_aid
    WHERE is_followed AND condition_before_drying = 'weak' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT site_id, month, wearer, 'not_assessed' AS series, condition_after IS NULL AS is_counted
    FROM problem_aid
    UNION ALL BY NAME
    SELECT
        w.site_id, w.month, hash(w.wearer_key) AS wearer, 'working_stopped' AS series,
        w.is_stopped AS is_counted
    FROM working_outcome AS w
    SEMI JOIN sound AS q
        ON q.measure = 'measured_change' AND q.site_id = w.site_id
        AND q.quarter = date_trunc('quarter', w.local_date)::DATE
    WHERE w.treatment = 'dried' AND w.is_assessed
),

per_wearer AS (
    SELECT series, site_id, month, wearer, count(*) AS n, count(*) FILTER (is_counted) AS k
    FROM followed
    GROUP BY ALL
)

SELECT
    series,
    site_id,
    month,
    sum(n)::BIGINT AS n,
    sum(k)::BIGINT AS counted,
    count(*) AS m,
    sum(n * n)::BIGINT AS nn,
    sum(k * k)::BIGINT AS yy,
    sum(n * k)::BIGINT AS yn,
    sum((k * k / n)::DECIMAL(18, 9)) AS yyn
FROM per_wearer
GROUP BY series, GROUPING SETS ((site_id, month), (month))
ORDER BY ALL
