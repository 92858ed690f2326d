-- Grain: one row per condition on arrival, site (null: every site) and step, with sums over wearers.
-- Denominator: closed episodes, dried rows of aids without an id, and visits for cleaning alone,
-- whose aid was dead, weak or otherwise faulty on arrival; inside the rates.
-- State: sums of wearers by condition_before, site_id, step.
WITH arrival AS (
    SELECT
        a.site_id, a.wearer_key, a.condition_before, a.condition_after_cleaning,
        e.condition_after, e.disposition, e.ended_by_reason, true AS is_dried
    FROM session_aid AS a
    INNER JOIN episode AS e ON e.episode_id = a.episode_id
    WHERE a.cycle_number = 1 AND a.condition_before <> 'normal' AND NOT a.is_outside_rates AND NOT e.is_open
    UNION ALL
    SELECT
        site_id, wearer_key, condition_before, condition_after_cleaning, condition_after,
        disposition, NULL AS ended_by_reason, treatment = 'dried' AS is_dried
    FROM session_aid
    WHERE
        condition_before <> 'normal' AND NOT is_outside_rates
        AND (treatment = 'cleaned_only' OR device_id IS NULL)
),

placed AS (
    SELECT
        site_id,
        wearer_key,
        condition_before,
        condition_after_cleaning IS NULL AS is_order_missing,
        CASE
            WHEN condition_after_cleaning = 'normal' THEN 'works_after_cleaning'
            WHEN NOT is_dried AND condition_after = 'normal' THEN 'works_after_cleaning'
            WHEN NOT is_dried THEN 'not_dried'
            WHEN condition_after = 'normal' THEN 'works_after_drying'
            WHEN condition_after IS NULL THEN 'not_assessed'
            WHEN disposition IN ('sent_for_repair', 'replaced') THEN disposition
            WHEN ended_by_reason IN ('sent_for_repair', 'replaced') THEN ended_by_reason
            WHEN disposition = 'returned_to_wearer' THEN 'returned_not_working'
            ELSE 'fate_not_known'
        END AS step
    FROM arrival
),

per_wearer AS (
    SELECT
        condition_before,
        site_id,
        wearer_key,
        count(*) AS n,
        count_if(is_order_missing) AS unordered,
        unnest([
            'works_after_cleaning', 'works_after_drying', 'returned_not_working',
            'sent_for_repair', 'replaced', 'fate_not_known', 'not_assessed', 'not_dried'
        ]) AS step,
        unnest([
            count_if(step = 'works_after_cleaning'), count_if(step = 'works_after_drying'),
            count_if(step = 'returned_not_working'), count_if(step = 'sent_for_repair'),
            count_if(step = 'replaced'), count_if(step = 'fate_not_known'),
            count_if(step = 'not_assessed'), count_if(step = 'not_dried')
        ]) AS y
    FROM placed
    GROUP BY condition_before, wearer_key, GROUPING SETS ((), (site_id))
)

SELECT
    condition_before,
    site_id,
    step,
    sum(n)::BIGINT AS n,
    sum(y)::BIGINT AS k,
    count(*) AS m,
    sum(n * n)::BIGINT AS nn,
    sum(y * y)::BIGINT AS yy,
    sum(n * y)::BIGINT AS yn,
    sum((y * y / n)::DECIMAL(18, 9)) AS yyn,
    sum(unordered)::BIGINT AS unordered
FROM per_wearer
GROUP BY ALL
ORDER BY ALL
