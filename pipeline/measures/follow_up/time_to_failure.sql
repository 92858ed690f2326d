-- Grain: one row per way of censoring, condition before drying, exposure, days since the return and
-- event (0 censored, 1 failed, 2 replaced, lost or retired).
-- Denominator: aids of followed_aid.
-- State: sums by basis, condition_before, exposure, days, event.
SELECT
    basis,
    condition_before,
    exposure,
    days,
    event,
    count(*) AS n,
    count_if(is_seen_again)::BIGINT AS seen_again
FROM (
    SELECT 'site_end' AS basis, days_to_end AS days, * FROM followed_aid
    UNION ALL
    SELECT 'last_contact' AS basis, days_to_contact AS days, * FROM followed_aid
)
GROUP BY ALL
ORDER BY ALL
