-- Grain: one row per site: what stands beside its rates. Null where the export that would tell was
-- not sent.
-- sent_without_drying: events 'sent_for_repair' of aids that no session dried within the episode
-- gap before; the events do not tell the condition. An aid outside the rates is not counted.
-- Events and visits count in quarters of a site that are in the analysis set of rescue_rate.
-- Seen: aids of the condition on arrival by the visit counts, in months for which they tell them;
-- dried: of those months, by the days on which an aid was dried.
-- State: whole, made from site_climate, rescue_sent and dried_month.
WITH in_set AS (
    SELECT site_id, quarter FROM analysis_set WHERE measure = 'rescue_rate' AND is_in
),

sends_events AS (
    SELECT DISTINCT site_id FROM service_event
),

-- Of aids that no session met.
sent_unmet AS (
    SELECT e.site_id, count(DISTINCT (e.device_id, e.occurred_on)) AS sent_without_drying
    FROM service_event AS e
    SEMI JOIN in_set AS i
        ON i.site_id = e.site_id AND i.quarter = date_trunc('quarter', e.occurred_on)::DATE
    ANTI JOIN device AS v ON v.site_id = e.site_id AND v.device_id = e.device_id
    WHERE e.event = 'sent_for_repair'
    GROUP BY e.site_id
),

seen_month AS (
    SELECT
        site_id, month, sum(dead_seen)::BIGINT AS dead_seen, sum(weak_seen)::BIGINT AS weak_seen
    FROM visit_count AS v
    SEMI JOIN in_set AS i
        ON i.site_id = v.site_id AND i.quarter = date_trunc('quarter', v.month)::DATE
    GROUP BY ALL
),

seen_here AS (
    SELECT
        s.site_id,
        sum(s.dead_seen)::BIGINT AS dead_seen,
        sum(coalesce(d.dead_dried, 0)) FILTER (WHERE s.dead_seen IS NOT NULL)::BIGINT AS dead_dried,
        sum(s.weak_seen)::BIGINT AS weak_seen,
        sum(coalesce(d.weak_dried, 0)) FILTER (WHERE s.weak_seen IS NOT NULL)::BIGINT AS weak_dried
    FROM seen_month AS s
    LEFT JOIN dried_month AS d ON d.site_id = s.site_id AND d.month = s.month
    GROUP BY s.site_id
)

SELECT
    c.site_id,
    c.climate_group,
    if(
        e.site_id IS NULL, NULL,
        coalesce(s.sent_without_drying, 0) + coalesce(u.sent_without_drying, 0)
    ) AS sent_without_drying,
    h.* EXCLUDE (site_id)
FROM site_climate AS c
LEFT JOIN sends_events AS e ON e.site_id = c.site_id
LEFT JOIN rescue_sent AS s ON s.site_id = c.site_id
LEFT JOIN sent_unmet AS u ON u.site_id = c.site_id
LEFT JOIN seen_here AS h ON h.site_id = c.site_id
ORDER BY ALL
