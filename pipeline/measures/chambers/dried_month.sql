-- Grain: one row per site and month.
-- Denominator: aids of dried_visit: those seen at clean-and-check, and those dead or weak on arrival.
-- State: sums of wearers by site_id, month.
SELECT
    site_id,
    month,
    count(*) FILTER (WHERE visit_reason = 'clean_and_check') AS checked_aids_dried,
    count(*) FILTER (WHERE condition_before = 'dead') AS dead_dried,
    count(*) FILTER (WHERE condition_before = 'weak') AS weak_dried
FROM dried_visit
GROUP BY ALL
