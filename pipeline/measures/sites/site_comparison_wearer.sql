-- Grain: one row per outcome and site: how many wearers its rows come from, which rows they are,
-- and why the site's quarters are left out where all of them are.
-- Denominator: rows of compared_aid.
-- State: sums of wearers by outcome, site_id, stratum, reason_left_out.
SELECT
    c.outcome,
    c.site_id,
    c.stratum,
    count(DISTINCT c.cluster) AS wearers,
    s.reason AS reason_left_out
FROM compared_aid AS c
LEFT JOIN (
    SELECT site_id, mode(reason ORDER BY quarter) AS reason
    FROM analysis_set
    WHERE measure = 'rescue_rate' AND is_in_period
    GROUP BY site_id
) AS s ON s.site_id = c.site_id
GROUP BY ALL
ORDER BY ALL
