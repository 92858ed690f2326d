-- Grain: one row per site, arm and week: aids measured or stopped, and those of them that stopped or
-- got worse.
-- Denominator: as in worsening_arm.
-- State: sums of wearers by site_id, arm, week.
SELECT
    w.site_id,
    w.arm,
    w.week,
    count(*) AS n,
    count(*) FILTER (WHERE is_stopped OR is_worse) AS k
FROM working_headline AS w
SEMI JOIN worsening_stratum AS c ON c.site_id = w.site_id AND c.stratum = w.stratum
WHERE is_measured OR is_stopped
GROUP BY ALL
