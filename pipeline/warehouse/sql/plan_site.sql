-- Grain: one row per site that measures working aids before and after.
-- Denominator: unexposed working aids at a clean-and-check in the site's last 26 weeks of data.
SELECT
    s.site_id,
    (SELECT max(local_date) FROM session_aid)::VARCHAR AS last_day,
    count(*)::DOUBLE / 26 AS aids_per_week,
    count(*)::DOUBLE / count(DISTINCT s.wearer_key) AS aids_per_wearer
FROM session_aid AS s
JOIN site AS t ON t.site_id = s.site_id
WHERE
    s.visit_reason = 'clean_and_check' AND NOT s.is_outside_rates
    AND s.condition_before = 'normal' AND s.condition_before_drying = 'normal'
    AND coalesce(s.exposure, 'none_known') = 'none_known'
    AND coalesce(len(s.symptoms), 0) = 0
    AND s.measured_change IS NOT NULL
    AND s.local_date > t.last_local_date - 182
    AND t.closed_on IS NULL
GROUP BY s.site_id
ORDER BY s.site_id
