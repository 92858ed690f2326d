-- Grain: one row per site, chamber (null: none named) and day with a session.
-- Denominator: sessions; runs, those dried, and the aids in them.
-- State: sums of wearers by site_id, dryer_id, month, local_date.
SELECT
    site_id,
    dryer_id,
    month,
    local_date,
    count(*) AS sessions,
    count(*) FILTER (WHERE treatment = 'dried') AS runs,
    coalesce(sum(aids_in_chamber) FILTER (WHERE treatment = 'dried'), 0)::BIGINT AS aids_dried
FROM session
GROUP BY ALL
