-- Grain: one row per kind of cluster (wearer, site-week), cluster, stratum, arm and measure.
-- Denominator: compared aids measured before and after, in site-quarters with both arms; for
-- `graded` those graded afterwards, whether measured or not.
WITH both_arms AS (
    SELECT stratum FROM comparison_aid WHERE is_measured
    GROUP BY stratum HAVING min(arm) < max(arm)
),

aid AS (
    SELECT a.*, dense_rank() OVER (ORDER BY wearer_cluster) AS wearer_code,
        dense_rank() OVER (ORDER BY site_week) AS week_code
    FROM comparison_aid AS a
    SEMI JOIN both_arms AS b ON b.stratum = a.stratum
),

outcome AS (
    SELECT stratum, arm, wearer_code, week_code, 'any' AS measure,
        (measured_change = 'improved')::INTEGER AS improved,
        (measured_change = 'worsened')::INTEGER AS worsened,
        (measured_change = 'mixed')::INTEGER AS mixed,
        is_any_positive_change::INTEGER AS any_positive, 0::DECIMAL(18, 6) AS change
    FROM aid WHERE is_measured
    UNION ALL BY NAME
    SELECT stratum, arm, wearer_code, week_code, 'graded' AS measure, 0 AS improved,
        (condition_after <> 'normal')::INTEGER AS worsened, 0 AS mixed, 0 AS any_positive,
        0::DECIMAL(18, 6) AS change
    FROM aid WHERE condition_after IS NOT NULL
    UNION ALL BY NAME
    SELECT stratum, arm, wearer_code, week_code, 'hfa_gain' AS measure,
        (hfa_gain_change = 'better')::INTEGER AS improved,
        (hfa_gain_change = 'worse')::INTEGER AS worsened, 0 AS mixed,
        (hfa_gain_after_db > hfa_gain_before_db)::INTEGER AS any_positive,
        (hfa_gain_after_db - hfa_gain_before_db)::DECIMAL(18, 6) AS change
    FROM aid WHERE hfa_gain_change IS NOT NULL
    UNION ALL BY NAME
    SELECT stratum, arm, wearer_code, week_code, 'hfa_ospl90' AS measure,
        (hfa_ospl90_change = 'better')::INTEGER AS improved,
        (hfa_ospl90_change = 'worse')::INTEGER AS worsened, 0 AS mixed,
        (hfa_ospl90_after_db_spl > hfa_ospl90_before_db_spl)::INTEGER AS any_positive,
        (hfa_ospl90_after_db_spl - hfa_ospl90_before_db_spl)::DECIMAL(18, 6) AS change
    FROM aid WHERE hfa_ospl90_change IS NOT NULL
    UNION ALL BY NAME
    SELECT stratum, arm, wearer_code, week_code, 'thd' AS measure,
        (thd_change = 'better')::INTEGER AS improved,
        (thd_change = 'worse')::INTEGER AS worsened, 0 AS mixed,
        (thd_after_log < thd_before_log)::INTEGER AS any_positive,
        (thd_after_log - thd_before_log)::DECIMAL(18, 6) AS change
    FROM aid WHERE thd_change IS NOT NULL
)

SELECT
    if(grouping(wearer_code) = 0, 'wearer', 'site_week') AS cluster_kind,
    coalesce(wearer_code, week_code) AS cluster,
    stratum,
    arm,
    measure,
    count(*) AS n,
    sum(improved)::BIGINT AS improved,
    sum(worsened)::BIGINT AS worsened,
    sum(mixed)::BIGINT AS mixed,
    sum(any_positive)::BIGINT AS any_positive,
    sum(change)::DOUBLE AS change
FROM outcome
GROUP BY GROUPING SETS (
    (wearer_code, stratum, arm, measure), (week_code, stratum, arm, measure)
)
ORDER BY ALL
