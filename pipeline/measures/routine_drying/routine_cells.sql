-- Grain: one row per kind of cluster (wearer, site-week), cluster (a hash), stratum, arm and measure.
-- Denominator: compared aids, every one that was treated. assessed: graded or measured afterwards;
-- stopped: of these; measured: by this measure and not stopped, which the classes and the change
-- count. `any`: all deciding measures together.
-- State: sums of wearers by cluster_kind, cluster, stratum, arm, measure.
WITH aid AS (
    SELECT *, hash(wearer_cluster) AS wearer_code, hash(site_week) AS week_code
    FROM comparison_aid
    WHERE is_compared
),

taken AS (
    SELECT 'any' AS measure, *,
        is_measured AS is_taken,
        measured_change = 'improved' AS is_better, measured_change = 'worsened' AS is_worse,
        measured_change = 'mixed' AS is_mixed, is_any_positive_change AS is_positive,
        0::DECIMAL(18, 6) AS change
    FROM aid
    UNION ALL BY NAME
    SELECT 'hfa_gain' AS measure, *,
        hfa_gain_change IS NOT NULL AND NOT is_stopped AS is_taken,
        hfa_gain_change = 'better' AS is_better, hfa_gain_change = 'worse' AS is_worse,
        false AS is_mixed, hfa_gain_after_db > hfa_gain_before_db AS is_positive,
        (hfa_gain_after_db - hfa_gain_before_db)::DECIMAL(18, 6) AS change
    FROM aid
    UNION ALL BY NAME
    SELECT 'hfa_ospl90' AS measure, *,
        hfa_ospl90_change IS NOT NULL AND NOT is_stopped AS is_taken,
        hfa_ospl90_change = 'better' AS is_better, hfa_ospl90_change = 'worse' AS is_worse,
        false AS is_mixed, hfa_ospl90_after_db_spl > hfa_ospl90_before_db_spl AS is_positive,
        (hfa_ospl90_after_db_spl - hfa_ospl90_before_db_spl)::DECIMAL(18, 6) AS change
    FROM aid
    UNION ALL BY NAME
    SELECT 'thd' AS measure, *,
        thd_change IS NOT NULL AND NOT is_stopped AS is_taken,
        thd_change = 'better' AS is_better, thd_change = 'worse' AS is_worse,
        false AS is_mixed, thd_after_log < thd_before_log AS is_positive,
        (thd_after_log - thd_before_log)::DECIMAL(18, 6) AS change
    FROM aid
)

SELECT
    if(grouping(wearer_code) = 0, 'wearer', 'site_week') AS cluster_kind,
    coalesce(wearer_code, week_code) AS cluster,
    stratum,
    arm,
    measure,
    count(*) AS n,
    count(*) FILTER (WHERE is_assessed) AS assessed,
    count(*) FILTER (WHERE is_stopped) AS stopped,
    count(*) FILTER (WHERE is_grade_different) AS grade_different,
    count(*) FILTER (WHERE is_taken) AS measured,
    count(*) FILTER (WHERE is_taken AND is_better) AS improved,
    count(*) FILTER (WHERE is_taken AND is_worse) AS worsened,
    count(*) FILTER (WHERE is_taken AND is_mixed) AS mixed,
    count(*) FILTER (WHERE is_taken AND is_positive) AS any_positive,
    coalesce(sum(change) FILTER (WHERE is_taken), 0) AS change
FROM taken
GROUP BY GROUPING SETS (
    (wearer_code, stratum, arm, measure), (week_code, stratum, arm, measure)
)
ORDER BY ALL
