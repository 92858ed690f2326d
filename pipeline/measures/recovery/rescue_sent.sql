-- Grain: one row per site: events 'sent_for_repair', one per aid and day, of aids that no session dried
-- within the episode gap before.
-- Denominator: events of aids met in a session and inside the rates, in quarters of a site that are
-- in the analysis set of rescue_rate.
-- State: sums of wearers by site_id.
WITH in_set AS (
    SELECT site_id, quarter FROM analysis_set WHERE measure = 'rescue_rate' AND is_in
),

sent AS (
    SELECT DISTINCT e.site_id, e.device_id, e.occurred_on
    FROM service_event AS e
    SEMI JOIN in_set AS i
        ON i.site_id = e.site_id AND i.quarter = date_trunc('quarter', e.occurred_on)::DATE
    INNER JOIN device AS v ON v.site_id = e.site_id AND v.device_id = e.device_id
    WHERE e.event = 'sent_for_repair' AND NOT coalesce(v.is_outside_rates, false)
),

dried AS (
    SELECT a.site_id, a.device_id, a.local_date
    FROM session_aid AS a
    SEMI JOIN sent AS s ON s.site_id = a.site_id AND s.device_id = a.device_id
    WHERE a.treatment = 'dried'
)

SELECT s.site_id, count(*) AS sent_without_drying
FROM sent AS s
ANTI JOIN dried AS d
    ON d.site_id = s.site_id AND d.device_id = s.device_id AND d.local_date <= s.occurred_on
    AND d.local_date >= s.occurred_on - getvariable('episode_gap_days')::INTEGER
GROUP BY s.site_id
