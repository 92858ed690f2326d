-- Grain: one row per accepted run of a chamber's log; where the site has one chamber, a run that
-- names none is of that one.
-- Denominator: every accepted row of the live chamber_runs files.
WITH single_chamber AS (
    SELECT site_id, any_value(dryer_id) AS dryer_id
    FROM dryer
    GROUP BY site_id
    HAVING count(*) = 1
)
SELECT p.* REPLACE (coalesce(p.dryer_id, c.dryer_id) AS dryer_id)
FROM read_chamber_runs AS p
LEFT JOIN single_chamber AS c ON c.site_id = p.site_id
