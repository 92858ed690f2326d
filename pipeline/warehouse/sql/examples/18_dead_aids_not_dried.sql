-- Of the dead aids that a site saw, how many were dried? A site that dries only hopeful aids looks
-- best.
SELECT site_id, sum(dead_seen) AS dead_seen, sum(dead_dried) AS dead_dried,
    round(sum(dead_dried) / nullif(sum(dead_seen), 0), 2) AS share
FROM (
    SELECT DISTINCT site_id, month, dead_seen, dead_dried FROM utilisation
)
GROUP BY site_id
ORDER BY site_id
