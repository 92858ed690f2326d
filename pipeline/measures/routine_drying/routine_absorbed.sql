-- Grain: one row per kind of cluster, cluster (a hash) and measure; of the kind "stratum" one per
-- measure, n its strata. Sums of products of what is left of
-- arm (x), reading before (z) and outcome (y) after their stratum's means are taken away.
-- Denominator: aids that may be compared and stopped, or were measured before and after; of one
-- measure those measured by it. `any`: outcome +1 improved, -1 worsened or stopped, without z, in strata of site-quarter, style, days since dry and lower or higher gain before
-- than usual for the style; the others: reading after, z the reading before, in site-quarters.
-- State: sums by cluster_kind, cluster, measure.
WITH aid AS (
    SELECT *, hash(wearer_cluster) AS wearer_code, hash(site_week) AS week_code,
        hfa_gain_before_db
        < median(hfa_gain_before_db) OVER (PARTITION BY site_id, device_style) AS is_gain_low
    FROM comparison_aid
    WHERE has_outcome
),

reading AS (
    SELECT 'any' AS measure, wearer_code, week_code, arm,
        concat_ws('#', stratum, device_style, days_since_dry_band, is_gain_low) AS stratum,
        0::DECIMAL(18, 6) AS z,
        CASE
            WHEN is_stopped THEN -1
            WHEN measured_change = 'improved' THEN 1
            WHEN measured_change = 'worsened' THEN -1
            ELSE 0
        END::DECIMAL(18, 6) AS y
    FROM aid
    UNION ALL BY NAME
    SELECT 'hfa_gain' AS measure, wearer_code, week_code, arm, stratum,
        hfa_gain_before_db::DECIMAL(18, 6) AS z, hfa_gain_after_db::DECIMAL(18, 6) AS y
    FROM aid WHERE hfa_gain_change IS NOT NULL AND NOT is_stopped
    UNION ALL BY NAME
    SELECT 'hfa_ospl90' AS measure, wearer_code, week_code, arm, stratum,
        hfa_ospl90_before_db_spl::DECIMAL(18, 6) AS z,
        hfa_ospl90_after_db_spl::DECIMAL(18, 6) AS y
    FROM aid WHERE hfa_ospl90_change IS NOT NULL AND NOT is_stopped
    UNION ALL BY NAME
    SELECT 'thd' AS measure, wearer_code, week_code, arm, stratum,
        thd_before_log::DECIMAL(18, 6) AS z, thd_after_log::DECIMAL(18, 6) AS y
    FROM aid WHERE thd_change IS NOT NULL AND NOT is_stopped
),

centre AS (
    SELECT measure, stratum, avg(arm) AS arm, (sum(z) / count(*))::DOUBLE AS z,
        (sum(y) / count(*))::DOUBLE AS y
    FROM reading
    GROUP BY measure, stratum
    HAVING min(arm) < max(arm)
),

centred AS (
    SELECT r.measure, r.stratum, r.wearer_code, r.week_code, r.arm - c.arm AS x, r.z - c.z AS z,
        r.y - c.y AS y
    FROM reading AS r
    JOIN centre AS c ON c.measure = r.measure AND c.stratum = r.stratum
)

SELECT
    if(grouping(wearer_code) = 0, 'wearer', 'site_week') AS cluster_kind,
    coalesce(wearer_code, week_code) AS cluster,
    measure,
    count(*) AS n,
    sum((x * x)::DECIMAL(18, 9)) AS xx,
    sum((x * z)::DECIMAL(18, 9)) AS xz,
    sum((z * z)::DECIMAL(18, 9)) AS zz,
    sum((x * y)::DECIMAL(18, 9)) AS xy,
    sum((z * y)::DECIMAL(18, 9)) AS zy
FROM centred
GROUP BY GROUPING SETS ((wearer_code, measure), (week_code, measure))
UNION ALL BY NAME
SELECT 'stratum' AS cluster_kind, measure, count(*) AS n
FROM centre
GROUP BY measure
ORDER BY ALL
