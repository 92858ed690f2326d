-- Grain: part 'loads': one row per programme, exposure, kind of load, whole minutes and end of
-- cycle; 'clusters': one row per programme, exposure and kind of load, with sums over wearers;
-- 'rescued' and 'returned_in_30_days': one row per condition, third of moisture and ten minutes,
-- with sums over wearers.
-- Denominator: loads: dried sessions. Aids: first cycles of problem aids dried alone, graded
-- after, inside the rates; returned: those that ended working and went back, of aids with an id,
-- with 30 days of data after.
-- State: whole, a wearer counts by medians and thirds over all sites.
WITH load AS (
    SELECT
        s.cycle_programme,
        s.wearer_key,
        s.dryer_id,
        s.site_id,
        CASE
            WHEN s.exposure = 'none_known' THEN 'not_exposed'
            WHEN s.exposure IN ('immersion', 'splash', 'perspiration') THEN 'exposed'
            ELSE 'not_known'
        END AS exposed,
        CASE
            WHEN s.is_alone THEN 'one_aid'
            WHEN s.aids_in_chamber = 2 AND coalesce(s.other_items_in_chamber, 'none') = 'none'
                THEN 'two_aids'
            ELSE 'with_other_items'
        END AS load_kind,
        round(s.cycle_minutes)::BIGINT AS minutes,
        CASE
            WHEN s.cycle_minutes IS NOT NULL THEN nullif(s.ended_by, 'unknown')
        END AS ended_by
    FROM session AS s
    WHERE s.treatment = 'dried'
),

stated AS (
    SELECT
        l.cycle_programme,
        CASE WHEN count(*) = count(d.stated_cycle_minutes) THEN max(d.stated_cycle_minutes) END
            AS stated_cycle_minutes
    FROM (SELECT DISTINCT cycle_programme, site_id, dryer_id FROM load) AS l
    LEFT JOIN dryer AS d ON d.site_id = l.site_id AND d.dryer_id = l.dryer_id
    GROUP BY l.cycle_programme
),

middle AS (
    SELECT cycle_programme, exposed, load_kind, quantile_disc(minutes, 0.5) AS middle_minutes
    FROM load
    WHERE ended_by = 'dry'
    GROUP BY ALL
),

load_wearer AS (
    SELECT
        l.cycle_programme, l.exposed, l.load_kind, l.wearer_key,
        count(*) AS n,
        count_if(l.ended_by = 'dry' AND l.minutes <= m.middle_minutes) AS y
    FROM load AS l
    LEFT JOIN middle AS m
        ON m.cycle_programme IS NOT DISTINCT FROM l.cycle_programme
        AND m.exposed = l.exposed AND m.load_kind = l.load_kind
    WHERE l.ended_by IS NOT NULL
    GROUP BY ALL
),

problem AS (
    SELECT
        a.*,
        CASE
            WHEN a.is_below_detection THEN -1 ELSE round(a.moisture_per_aid_ul, 2)
        END AS reading,
        10 * ceil(a.cycle_minutes / 10) AS minutes
    FROM session_aid AS a
    WHERE
        a.treatment = 'dried' AND a.is_first_cycle AND a.is_alone AND a.is_complete
        AND NOT a.is_outside_rates
        AND a.condition_before_drying <> 'normal' AND a.condition_after IS NOT NULL
        AND a.cycle_minutes IS NOT NULL
),

third AS (
    SELECT
        condition_before_drying,
        quantile_disc(reading, 1 / 3) AS first_third,
        quantile_disc(reading, 2 / 3) AS second_third
    FROM problem
    WHERE reading IS NOT NULL
    GROUP BY condition_before_drying
),

placed AS (
    SELECT
        p.site_id,
        p.device_id,
        p.wearer_key,
        p.file_id,
        p.line,
        p.local_date,
        p.condition_before_drying AS condition_before,
        p.condition_after,
        p.disposition,
        p.minutes,
        CASE
            WHEN p.reading <= t.first_third THEN 'driest'
            WHEN p.reading <= t.second_third THEN 'middle'
            WHEN p.reading > t.second_third THEN 'wettest'
        END AS moisture_third,
        is_headline_rescue(p.condition_before_drying, p.condition_after) AS is_rescued
    FROM problem AS p
    LEFT JOIN third AS t ON t.condition_before_drying = p.condition_before_drying
),

site_end AS (
    SELECT site_id, max(local_date) AS last_day FROM session GROUP BY site_id
),

trouble AS (
    SELECT site_id, device_id, local_date AS day
    FROM session_aid
    WHERE device_id IS NOT NULL AND condition_before_drying <> 'normal'
    UNION ALL
    SELECT site_id, device_id, occurred_on AS day
    FROM service_event
    WHERE event IN ('failed_again', 'sent_for_repair', 'receiver_replaced')
),

went_back AS (
    SELECT p.*
    FROM placed AS p
    INNER JOIN site_end AS e ON e.site_id = p.site_id
    WHERE
        p.condition_after = 'normal' AND p.device_id IS NOT NULL
        AND coalesce(p.disposition, 'unknown') IN ('returned_to_wearer', 'unknown')
        AND p.local_date + 30 <= e.last_day
),

came_again AS (
    SELECT DISTINCT p.site_id, p.device_id, p.local_date
    FROM went_back AS p
    INNER JOIN trouble AS t ON t.site_id = p.site_id AND t.device_id = p.device_id
    WHERE t.day > p.local_date AND t.day <= p.local_date + 30
),

outcome AS (
    SELECT 'rescued' AS part, condition_before, moisture_third, minutes, wearer_key, is_rescued AS is_event
    FROM placed
    UNION ALL
    SELECT
        'returned_in_30_days' AS part, p.condition_before, p.moisture_third, p.minutes, p.wearer_key,
        c.device_id IS NOT NULL AS is_event
    FROM went_back AS p
    LEFT JOIN came_again AS c
        ON c.site_id = p.site_id AND c.device_id = p.device_id AND c.local_date = p.local_date
),

aid_wearer AS (
    SELECT
        part, condition_before, moisture_third, minutes, wearer_key,
        count(*) AS n, count_if(is_event) AS y
    FROM outcome
    GROUP BY ALL
),

sums AS (
    SELECT
        'clusters' AS part, cycle_programme, exposed, load_kind, NULL::VARCHAR AS condition_before,
        NULL::VARCHAR AS moisture_third, NULL::BIGINT AS minutes, n, y
    FROM load_wearer
    UNION ALL
    SELECT part, NULL, NULL, NULL, condition_before, moisture_third, minutes::BIGINT, n, y
    FROM aid_wearer
)

SELECT
    'loads' AS part, l.cycle_programme, l.exposed, l.load_kind, NULL::VARCHAR AS condition_before,
    NULL::VARCHAR AS moisture_third, l.minutes, l.ended_by, s.stated_cycle_minutes,
    count(*) AS n, NULL::BIGINT AS k, NULL::BIGINT AS m, NULL::BIGINT AS nn, NULL::BIGINT AS yy,
    NULL::BIGINT AS yn, NULL::DOUBLE AS yyn
FROM load AS l
LEFT JOIN stated AS s ON s.cycle_programme IS NOT DISTINCT FROM l.cycle_programme
GROUP BY ALL
UNION ALL
SELECT
    part, cycle_programme, exposed, load_kind, condition_before, moisture_third, minutes,
    NULL AS ended_by, NULL AS stated_cycle_minutes,
    sum(n)::BIGINT AS n, sum(y)::BIGINT AS k, count(*) AS m, sum(n * n)::BIGINT AS nn,
    sum(y * y)::BIGINT AS yy, sum(n * y)::BIGINT AS yn,
    sum((y * y / n)::DECIMAL(18, 9))::DOUBLE AS yyn
FROM sums
GROUP BY ALL
ORDER BY ALL
