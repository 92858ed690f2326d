-- Grain: one row per site with working aids that were only cleaned, in the months reported.
-- Denominator: `cleaned`, assessed afterwards; `stopped` of them.
-- State: whole, it moves with the day.
SELECT site_id, count(*) AS cleaned, count(*) FILTER (WHERE is_stopped) AS stopped
FROM working_outcome
WHERE
    arm = 0 AND is_assessed
    AND (
        getvariable('report_months') = 0
        OR local_date > getvariable('as_of') - to_months(getvariable('report_months')::INTEGER)
    )
GROUP BY site_id
ORDER BY site_id
