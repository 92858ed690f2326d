-- Grain: one row per condition before drying, definition and symptom, with sums over wearers.
-- Denominator: problem aids dried, inside the rates and in headline_aid's headline, first cycle of
-- each episode, with a symptom recorded; an aid counts under each of its symptoms, so that symptoms never add up. n: graded
-- after drying; t: all of them.
-- State: sums of wearers by unit, condition_before, definition, grouping, group_1.
WITH told AS (
    SELECT
        condition_before_drying AS condition_before,
        wearer_key,
        unnest(list_distinct(symptoms)) AS symptom,
        condition_after,
        is_order_recorded
    FROM headline_aid
    WHERE
        rows_counted = 'headline'
        AND treatment = 'dried' AND is_first_cycle AND NOT is_outside_rates
        AND condition_before_drying <> 'normal' AND len(symptoms) > 0
),

by_wearer AS (
    SELECT
        condition_before,
        symptom,
        wearer_key,
        count(*) AS t,
        count(condition_after) AS n,
        -- count_if gives null, not 0, where every value is null: here, where none was assessed.
        count(*) FILTER (WHERE is_rescued('sounds_again', condition_after)) AS sounds_again,
        count(*) FILTER (WHERE is_rescued('back_to_normal', condition_after)) AS back_to_normal,
        count_if(condition_after IS NOT NULL AND NOT is_order_recorded)::BIGINT AS unordered
    FROM told
    GROUP BY condition_before, symptom, wearer_key
),

defined AS (
    SELECT * EXCLUDE (sounds_again, back_to_normal), 'sounds_again' AS definition, sounds_again AS k
    FROM by_wearer
    WHERE condition_before = 'dead'
    UNION ALL BY NAME
    SELECT
        * EXCLUDE (sounds_again, back_to_normal), 'back_to_normal' AS definition, back_to_normal AS k
    FROM by_wearer
)

SELECT
    'first_cycle' AS unit,
    condition_before,
    definition,
    'symptom' AS grouping,
    symptom AS group_1,
    sum(unordered)::BIGINT AS order_not_recorded,
    sum(n)::BIGINT AS n,
    sum(n * n)::BIGINT AS nn,
    sum(n * t)::BIGINT AS nt,
    count_if(n > 0)::BIGINT AS m,
    sum(t)::BIGINT AS t,
    sum(t * t)::BIGINT AS tt,
    count(*) AS m_t,
    sum(k)::BIGINT AS k,
    sum(k * k)::BIGINT AS yy,
    sum(k * t)::BIGINT AS yt,
    sum(k * n)::BIGINT AS yn,
    coalesce(sum((k * k / nullif(n, 0))::DECIMAL(18, 6)), 0) AS yyn
FROM defined
GROUP BY condition_before, definition, symptom
ORDER BY ALL
