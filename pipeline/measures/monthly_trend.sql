-- Grain: one row per series, site and month, and per month over all sites (null site), with sums
-- over wearers: n aids, k counted, m wearers, Σn², Σk², Σnk, Σk²/n.
-- Denominator: first dried sessions of an episode, inside the rates; graded afterwards for the
-- rescue series, all of problem aids for not_assessed.
WITH problem_aid AS (
    SELECT site_id, month, hash(wearer_key) AS wearer, condition_before_drying, condition_after
    FROM session_aid
    WHERE
        treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
        AND condition_before_drying <> 'normal'
),

followed AS (
    SELECT
        site_id, month, wearer, 'dead_sounds_again' AS series,
        condition_after <> 'dead' AS is_counted
    FROM problem_aid
    WHERE condition_before_drying = 'dead' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT
        site_id, month, wearer, 'weak_back_to_normal' AS series,
        condition_after = 'normal' AS is_counted
    FROM problem_aid
    WHERE condition_before_drying = 'weak' AND condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT site_id, month, wearer, 'not_assessed' AS series, condition_after IS NULL AS is_counted
    FROM problem_aid
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
    sum((k * k / n)::DECIMAL(18, 9))::DOUBLE AS yyn
FROM per_wearer
GROUP BY series, GROUPING SETS ((site_id, month), (month))
ORDER BY ALL
