-- Grain: one row per site, chamber and month, from the site's first to its last month with data;
-- a null chamber only in months in which sessions name none.
-- Denominator: dried sessions for runs; an aid is dried once a visit, as visit counts see it; open
-- days are the days of the month that lie between the site's first and last loaded day while the
-- chamber stood there, times the site's open days a week over seven. A week belongs to the
-- month of its Monday, and counts only if it lies wholly between those two days.
-- State: whole, made from chamber_day and dried_month.
WITH span AS (
    SELECT site_id, min(local_date) AS first_day, max(local_date) AS last_day
    FROM chamber_day
    GROUP BY site_id
),

site_month AS (
    SELECT
        s.site_id,
        s.first_day,
        s.last_day,
        unnest(generate_series(
            date_trunc('month', s.first_day)::TIMESTAMP, s.last_day::TIMESTAMP, INTERVAL 1 MONTH
        ))::DATE AS month
    FROM span AS s
),

week AS (
    SELECT
        site_id,
        unnest(generate_series(
            (date_trunc('week', first_day - 1) + INTERVAL 7 DAY)::TIMESTAMP,
            (last_day - 6)::TIMESTAMP,
            INTERVAL 7 DAY
        ))::DATE AS monday
    FROM span
),

worked AS (
    SELECT DISTINCT site_id, dryer_id, date_trunc('week', local_date)::DATE AS monday
    FROM chamber_day
),

site_week AS (
    SELECT
        w.site_id,
        w.monday,
        date_trunc('month', w.monday)::DATE AS month,
        count(r.monday) > 0 AS has_data
    FROM week AS w
    LEFT JOIN worked AS r ON r.site_id = w.site_id AND r.monday = w.monday
    GROUP BY ALL
),

week_gap AS (
    SELECT
        site_id,
        month,
        count(*) AS weeks_covered,
        count(*) FILTER (WHERE NOT has_data) AS weeks_without_data
    FROM site_week
    GROUP BY ALL
),

run AS (
    SELECT
        site_id, dryer_id, month, sum(runs)::BIGINT AS runs, sum(aids_dried)::BIGINT AS aids_dried
    FROM chamber_day
    WHERE runs > 0
    GROUP BY ALL
),

chamber AS (
    SELECT m.site_id, d.dryer_id, m.month
    FROM site_month AS m
    INNER JOIN dryer AS d ON d.site_id = m.site_id
    WHERE coalesce(d.installed_on <= last_day(m.month), true)
        AND coalesce(d.removed_on >= m.month, true)
    UNION
    SELECT site_id, dryer_id, month FROM run
    UNION
    SELECT site_id, NULL, month FROM site_month
    WHERE site_id NOT IN (SELECT site_id FROM dryer) AND site_id NOT IN (SELECT site_id FROM run)
),

covered AS (
    SELECT
        c.site_id,
        c.dryer_id,
        c.month,
        greatest(
            0,
            least(m.last_day, last_day(m.month), coalesce(d.removed_on, m.last_day))
            - greatest(m.first_day, m.month, coalesce(d.installed_on, m.first_day)) + 1
        ) * t.open_days_per_week / 7 AS open_days
    FROM chamber AS c
    INNER JOIN site_month AS m ON m.site_id = c.site_id AND m.month = c.month
    LEFT JOIN site AS t ON t.site_id = c.site_id
    LEFT JOIN dryer AS d ON d.site_id = c.site_id AND d.dryer_id = c.dryer_id
),

idle AS (
    SELECT c.site_id, c.dryer_id, c.month, count(*) AS idle_weeks
    FROM chamber AS c
    INNER JOIN site_week AS w ON w.site_id = c.site_id AND w.month = c.month AND w.has_data
    LEFT JOIN dryer AS d ON d.site_id = c.site_id AND d.dryer_id = c.dryer_id
    WHERE NOT EXISTS (
        FROM worked AS r
        WHERE r.site_id = c.site_id AND r.dryer_id IS NOT DISTINCT FROM c.dryer_id
            AND r.monday = w.monday
    )
    AND coalesce(d.installed_on <= w.monday, true) AND coalesce(d.removed_on >= w.monday + 6, true)
    GROUP BY ALL
),

seen AS (
    SELECT
        site_id,
        month,
        sum(aids_seen) FILTER (WHERE visit_reason = 'clean_and_check')::BIGINT
            AS checked_aids_seen,
        sum(dead_seen)::BIGINT AS dead_seen
    FROM visit_count
    GROUP BY ALL
)

SELECT
    c.site_id,
    c.dryer_id,
    c.month,
    coalesce(r.runs, 0) AS runs,
    o.open_days,
    coalesce(r.aids_dried, 0) AS aids_dried,
    coalesce(h.checked_aids_dried, 0) AS checked_aids_dried,
    s.checked_aids_seen,
    coalesce(h.dead_dried, 0) AS dead_dried,
    s.dead_seen,
    coalesce(g.weeks_covered, 0) AS weeks_covered,
    coalesce(g.weeks_without_data, 0) AS weeks_without_data,
    coalesce(i.idle_weeks, 0) AS idle_weeks
FROM chamber AS c
LEFT JOIN covered AS o
    ON o.site_id = c.site_id AND o.dryer_id IS NOT DISTINCT FROM c.dryer_id AND o.month = c.month
LEFT JOIN run AS r
    ON r.site_id = c.site_id AND r.dryer_id IS NOT DISTINCT FROM c.dryer_id AND r.month = c.month
LEFT JOIN dried_month AS h ON h.site_id = c.site_id AND h.month = c.month
LEFT JOIN seen AS s ON s.site_id = c.site_id AND s.month = c.month
LEFT JOIN week_gap AS g ON g.site_id = c.site_id AND g.month = c.month
LEFT JOIN idle AS i
    ON i.site_id = c.site_id AND i.dryer_id IS NOT DISTINCT FROM c.dryer_id AND i.month = c.month
ORDER BY ALL
