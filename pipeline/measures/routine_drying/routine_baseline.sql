-- Grain: one row per feature before the visit, level and arm; level null for a number.
-- Denominator: compared aids, every one that was treated.
-- State: sums by feature, level, arm.
WITH aid AS (
    SELECT * FROM comparison_aid WHERE is_compared
),

feature AS (
    SELECT
        arm,
        wearer_cluster,
        unnest([
            {'feature': 'device_style', 'level': device_style, 'value': NULL},
            {'feature': 'device_age_band', 'level': device_age_band, 'value': NULL},
            {'feature': 'days_since_dry_band', 'level': days_since_dry_band, 'value': NULL},
            {'feature': 'power_source', 'level': power_source, 'value': NULL},
            {'feature': 'home_dryer', 'level': home_dryer, 'value': NULL},
            {'feature': 'before_measured_when', 'level': before_measured_when, 'value': NULL},
            {'feature': 'hfa_gain_before', 'level': NULL,
             'value': hfa_gain_before_db::DECIMAL(18, 6)},
            {'feature': 'hfa_ospl90_before', 'level': NULL,
             'value': hfa_ospl90_before_db_spl::DECIMAL(18, 6)},
            {'feature': 'thd_before', 'level': NULL, 'value': thd_before_log::DECIMAL(18, 6)}
        ], recursive := true)
    FROM aid
)

SELECT
    feature,
    CASE WHEN feature LIKE '%_before' THEN NULL ELSE coalesce(level, 'not recorded') END AS level,
    arm,
    count(*) AS n,
    count(DISTINCT wearer_cluster) AS wearers,
    sum(value) AS total,
    sum((value * value)::DECIMAL(24, 6)) AS squares
FROM feature
WHERE feature NOT LIKE '%_before' OR value IS NOT NULL
GROUP BY ALL
ORDER BY ALL
