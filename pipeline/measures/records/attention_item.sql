-- Grain: one row per thing to look at: kind, site and subject; `word` says which of its kind.
-- Denominator: `out_of`, where something is counted.
-- State: whole, small tables.
WITH newest AS (
    SELECT max(month) AS month FROM data_quality
),

verdict AS (
    SELECT 'routine_drying' AS item_kind, NULL::VARCHAR AS site_id, NULL::VARCHAR AS subject,
        verdict AS word, dried_stopped AS count, dried_assessed AS out_of
    FROM routine_drying_verdict
    WHERE verdict = 'may_harm'
),

-- Dried working aids that stopped in the last 90 days, by site and of all; older ones are settled.
-- Which of them are told, and how, is inferred.
stopped AS (
    SELECT 'stopped_aid' AS item_kind, site_id, NULL::VARCHAR AS subject, '' AS word,
        count(*) FILTER (WHERE is_stopped) AS count, count(*) AS out_of
    FROM working_outcome
    WHERE arm = 1 AND is_assessed AND local_date > getvariable('as_of') - 90
    GROUP BY GROUPING SETS ((site_id), ())
),

outcome AS (
    SELECT 'site_outcome' AS item_kind, site_id, outcome AS subject, verdict AS word,
        observed AS count, n AS out_of
    FROM site_comparison
    WHERE (outcome IN ('normal_worsened', 'not_assessed') AND verdict = 'higher_than_expected')
        OR (outcome NOT IN ('normal_worsened', 'not_assessed') AND verdict = 'lower_than_expected')
),

chamber AS (
    SELECT 'chamber' AS item_kind, site_id, dryer_id AS subject, standing AS word,
        NULL::BIGINT AS count, NULL::BIGINT AS out_of
    FROM dryer_calibration
    WHERE removed_on IS NULL AND standing <> 'in_tolerance'
    UNION ALL
    SELECT 'chamber_pump', site_id, dryer_id, '', pump_cycles_short, pump_cycles
    FROM dryer_calibration
    WHERE removed_on IS NULL AND pump = 'outside'
),

-- Breaches of safety in the months reported; gaps of records in the last three, so that mending
-- them clears the item.
quality AS (
    SELECT 'quality' AS item_kind, q.site_id, q.check_name AS subject, q.check_name AS word,
        sum(q.numerator)::BIGINT AS count, sum(q.denominator)::BIGINT AS out_of
    FROM data_quality AS q
    CROSS JOIN newest AS n
    WHERE q.check_name NOT IN ('rows_refused', 'rows_with_refused_values',
            'chambers_without_check', 'nothing_for_two_weeks')
        AND (q.month IS NULL OR q.month > n.month - to_months(
            CASE WHEN q.check_name NOT IN (
                    'zinc_air_cell_left_in', 'sealed_lithium_without_permission',
                    'sealed_lithium_against_permission', 'output_above_specification',
                    'returned_dead_after_immersion', 'returned_unchecked_after_immersion'
                ) THEN 3
                WHEN getvariable('report_months') > 0 THEN getvariable('report_months')::INTEGER
                ELSE 100000 END))
    GROUP BY q.site_id, q.check_name
    HAVING sum(q.numerator) > any_value(q.threshold) * sum(q.denominator)
),

silent AS (
    SELECT 'silent_site' AS item_kind, q.site_id, NULL::VARCHAR AS subject,
        coalesce(s.last_local_date::VARCHAR, 'never') AS word,
        NULL::BIGINT AS count, NULL::BIGINT AS out_of
    FROM data_quality AS q
    INNER JOIN site AS s ON s.site_id = q.site_id
    WHERE q.check_name = 'nothing_for_two_weeks' AND q.is_over
),

file AS (
    SELECT 'file' AS item_kind, site_id, concat_ws('/', file, member) AS subject, status AS word,
        any_value(rows_read) AS count, NULL::BIGINT AS out_of
    FROM row_account
    WHERE status IN ('refused', 'held', 'kept')
    GROUP BY ALL
),

rows_refused AS (
    SELECT 'rows_refused' AS item_kind, site_id, NULL::VARCHAR AS subject, '' AS word,
        sum(quarantined)::BIGINT AS count, sum(rows_read)::BIGINT AS out_of
    FROM row_account
    WHERE is_live
    GROUP BY site_id
    HAVING sum(quarantined) > 0
),

values_refused AS (
    SELECT 'values_refused' AS item_kind, site_id, NULL::VARCHAR AS subject, '' AS word,
        sum(values_refused)::BIGINT AS count, NULL::BIGINT AS out_of
    FROM row_account
    WHERE is_live
    GROUP BY site_id
    HAVING sum(values_refused) > 0
),

corrected AS (
    SELECT 'correction' AS item_kind, site_id, NULL::VARCHAR AS subject, '' AS word,
        count(*) FILTER (WHERE status <> 'applied') AS count, count(*) AS out_of
    FROM correction
    GROUP BY site_id
    HAVING count(*) FILTER (WHERE status <> 'applied') > 0
),

listed AS (
    SELECT * FROM verdict
    UNION ALL BY NAME SELECT * FROM stopped
    UNION ALL BY NAME SELECT * FROM outcome
    UNION ALL BY NAME SELECT * FROM chamber
    UNION ALL BY NAME SELECT * FROM quality
    UNION ALL BY NAME SELECT * FROM silent
    UNION ALL BY NAME SELECT * FROM file
    UNION ALL BY NAME SELECT * FROM rows_refused
    UNION ALL BY NAME SELECT * FROM values_refused
    UNION ALL BY NAME SELECT * FROM corrected
)

SELECT
    left(sha256(concat_ws('|', item_kind, coalesce(site_id, ''), coalesce(subject, ''))), 12) AS item_id,
    *
FROM listed
ORDER BY item_id
