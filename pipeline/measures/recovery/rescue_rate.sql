-- Grain: one row per unit, condition before drying, grouping and group, with sums over wearers.
-- Denominator: dried aids that are inside the rates and in headline_aid's headline; the first cycle
-- of each episode, but every cycle where the grouping is cycle_number; closed episodes, by the
-- quarter of their first day. Grouped by rows_counted: those of another order of work, those left
-- out of the analysis set, and all rows together.
-- t1 counts aids dried, n1 those graded after drying; t2 and n2, by the order of work that belongs
-- to measurements, aids dried and aids measured before and after with the deciding measures (of
-- weak aids: also graded). Groups are told apart by grouping_id: a bit a column, 0 = grouped by.
-- State: sums of wearers by unit, condition_before, grouping_id, site_id, device_style, exposure,
-- water_kind, season, climate_group, delay_band, device_age_band, cycle_number, rows_counted.
WITH change AS (
    SELECT
        s.condition_before_drying AS condition_before,
        hash(s.wearer_key) AS wearer,
        s.site_id,
        s.device_style,
        s.exposure,
        s.water_kind,
        s.season,
        s.climate_group,
        s.delay_band,
        s.device_age_band,
        s.cycle_number,
        s.is_first_cycle,
        s.is_order_recorded,
        s.is_measured_order_recorded,
        s.rows_counted,
        s.measured_rows_counted,
        s.condition_after,
        -- A working aid that stopped has worsened, whatever was measured; as in working_outcome.
        coalesce(
            s.condition_before_drying = 'normal' AND s.condition_after <> 'normal'
            AND NOT (s.condition_after = 'weak'
                AND coalesce(s.measured_change, '') IN ('improved', 'unchanged')),
            false
        ) AS is_stopped,
        -- A stopped aid gives no second reading: it counts where its first one was taken. Where
        -- nobody measures, stopped aids without measured ones beside them would be all that counts.
        (
            is_stopped AND s.hfa_gain_before_db IS NOT NULL
            AND (s.hfa_ospl90_before_db_spl IS NOT NULL OR s.thd_before_pct IS NOT NULL)
        ) OR (
            s.condition_before_drying IN ('normal', 'weak') AND s.measured_change IS NOT NULL
            AND (s.condition_before_drying = 'normal' OR s.condition_after IS NOT NULL)
        ) AS is_measured,
        s.measured_change IN ('improved', 'mixed') AND NOT is_stopped AS is_better,
        s.measured_change IN ('worsened', 'mixed') OR is_stopped AS is_worse,
        s.is_any_positive_change AND NOT is_stopped AS is_any_better
    FROM headline_aid AS s
    WHERE
        s.treatment = 'dried' AND NOT s.is_outside_rates AND s.rows_counted <> 'before_period'
),

dried AS (
    SELECT
        'first_cycle' AS unit,
        * EXCLUDE (cycle_number, is_stopped),
        CASE WHEN cycle_number >= 4 THEN '4_or_more' ELSE coalesce(cycle_number, 1)::VARCHAR END
            AS cycle_number,
        condition_after IS NOT NULL AS is_graded,
        NOT is_order_recorded AS is_order_unknown,
        NOT is_measured_order_recorded AS is_measured_order_unknown,
        false AS is_open
    FROM change
),

problem_episode AS (
    SELECT episode_id FROM episode WHERE NOT is_outside_rates AND condition_before <> 'normal'
),

episode_order AS (
    SELECT
        a.episode_id,
        bool_and(a.is_order_recorded) AS is_order_recorded,
        -- Of its first session.
        arg_min(a.rows_counted, a.cycle_number) AS rows_counted
    FROM headline_aid AS a
    SEMI JOIN problem_episode AS e ON e.episode_id = a.episode_id
    GROUP BY a.episode_id
),

counted AS (
    SELECT
        unit, condition_before, wearer, site_id, device_style, exposure, water_kind, season,
        climate_group, delay_band, device_age_band, cycle_number, is_first_cycle, is_graded,
        condition_after, is_measured, is_better, is_worse, is_any_better, is_order_unknown,
        is_measured_order_unknown, rows_counted, measured_rows_counted, is_open
    FROM dried
    UNION ALL BY NAME
    SELECT
        'episode' AS unit,
        true AS is_first_cycle,
        e.condition_before,
        hash(e.wearer_key) AS wearer,
        e.site_id,
        e.device_style,
        e.exposure,
        e.water_kind,
        e.season,
        e.climate_group,
        e.delay_band,
        e.device_age_band,
        NULL AS cycle_number,
        e.condition_after IS NOT NULL AND NOT e.is_open AS is_graded,
        e.condition_after,
        false AS is_measured,
        NULL::BOOLEAN AS is_better,
        NULL::BOOLEAN AS is_worse,
        NULL::BOOLEAN AS is_any_better,
        NOT o.is_order_recorded AS is_order_unknown,
        false AS is_measured_order_unknown,
        o.rows_counted,
        'none' AS measured_rows_counted,
        e.is_open
    FROM episode AS e
    INNER JOIN episode_order AS o ON o.episode_id = e.episode_id
    WHERE
        NOT e.is_outside_rates AND e.condition_before <> 'normal'
        AND o.rows_counted <> 'before_period'
),

-- The words that occur, so that a group is told by small numbers: a place in its list.
word AS (
    SELECT
        list(DISTINCT site_id) AS site_id,
        list(DISTINCT device_style) AS device_style,
        list(DISTINCT exposure) AS exposure,
        list(DISTINCT water_kind) AS water_kind,
        list(DISTINCT season) AS season,
        list(DISTINCT climate_group) AS climate_group,
        list(DISTINCT delay_band) AS delay_band,
        list(DISTINCT device_age_band) AS device_age_band,
        list(DISTINCT condition_before_drying) AS condition_before
    FROM session_aid
),

site_place AS (
    SELECT unnest(site_id) AS site_id, generate_subscripts(site_id, 1)::USMALLINT AS place
    FROM word
),

-- What each row adds, five counts to one number, 24 bits each: with fourteen counts apart the whole
-- query takes 1.6 times as long on 78 000 aids, 1.7 times on 780 000.
packed AS (
    SELECT
        c.unit = 'episode' AS is_episode,
        list_position(w.condition_before, c.condition_before)::UTINYINT AS condition_before,
        c.wearer,
        p.place AS site_id,
        list_position(w.device_style, c.device_style)::UTINYINT AS device_style,
        list_position(w.exposure, c.exposure)::UTINYINT AS exposure,
        list_position(w.water_kind, c.water_kind)::UTINYINT AS water_kind,
        list_position(w.season, c.season)::UTINYINT AS season,
        list_position(w.climate_group, c.climate_group)::UTINYINT AS climate_group,
        list_position(w.delay_band, c.delay_band)::UTINYINT AS delay_band,
        list_position(w.device_age_band, c.device_age_band)::UTINYINT AS device_age_band,
        c.cycle_number,
        c.is_first_cycle,
        c.rows_counted,
        c.measured_rows_counted,
        (NOT is_open)::HUGEINT + (is_open::HUGEINT << 24) + (is_graded::HUGEINT << 48)
        + ((is_graded AND condition_after <> 'dead')::HUGEINT << 72)
        + ((is_graded AND condition_after = 'normal')::HUGEINT << 96) AS graded,
        (is_graded AND is_order_unknown)::HUGEINT << 48 AS unordered,
        is_measured::HUGEINT + ((is_measured AND is_measured_order_unknown)::HUGEINT << 24)
        + ((is_measured AND is_any_better)::HUGEINT << 72)
        + ((NOT is_open)::HUGEINT << 96) AS measured,
        (is_measured AND (
            (is_better AND NOT is_worse) OR (c.condition_before = 'weak' AND condition_after = 'normal')
        ))::HUGEINT
        + ((is_measured AND is_worse AND NOT is_better)::HUGEINT << 24)
        + ((is_measured AND is_better AND is_worse)::HUGEINT << 48)
        + ((is_measured AND NOT is_better AND NOT is_worse)::HUGEINT << 72) AS changed
    FROM (
        SELECT
            * REPLACE (
                coalesce(is_better, false) AS is_better, coalesce(is_worse, false) AS is_worse,
                coalesce(is_any_better, false) AS is_any_better,
                coalesce(condition_after, '') AS condition_after
            )
        FROM counted
    ) AS c
    CROSS JOIN word AS w
    LEFT JOIN site_place AS p ON p.site_id = c.site_id
),

-- Each row in the sets of rows that it counts in, its graded and its measured outcome apart.
counted_in AS NOT MATERIALIZED (
    SELECT
        p.* EXCLUDE (measured_rows_counted, unordered) REPLACE (
            u.rows_counted AS rows_counted,
            if(u.rows_counted IN ('all_rows', p.rows_counted), graded, 0) AS graded,
            if(u.rows_counted IN ('all_rows', p.rows_counted), unordered, 0)
            + if(u.rows_counted IN ('all_rows', p.measured_rows_counted), measured, 0) AS measured,
            if(u.rows_counted IN ('all_rows', p.measured_rows_counted), changed, 0) AS changed
        )
    FROM packed AS p
    INNER JOIN (
        SELECT unnest(['headline', 'other_order', 'left_out', 'all_rows']) AS rows_counted
    ) AS u
        ON u.rows_counted IN ('all_rows', p.rows_counted, p.measured_rows_counted)
),

-- A wearer's rows at one site, whose climate is known with it. Nearly every wearer is of one site:
-- groups over sites are rolled up from these, for two thirds of the time that each apart takes.
at_site AS (
    SELECT
        is_episode, condition_before, wearer, site_id, climate_group, device_style, exposure,
        water_kind, season, delay_band, device_age_band, NULL AS cycle_number,
        NULL AS rows_counted,
        grouping_id(
            site_id, device_style, exposure, water_kind, season, climate_group, delay_band,
            device_age_band
        ) * 2 + 513 AS grouping_id,
        sum(graded) AS graded,
        sum(measured) AS measured,
        sum(changed) AS changed
    FROM counted_in
    WHERE is_first_cycle AND rows_counted = 'headline'
    GROUP BY
        is_episode, condition_before, wearer, site_id, climate_group,
        GROUPING SETS (
            (), (device_style), (exposure), (water_kind), (season), (delay_band),
            (device_age_band), (exposure, delay_band)
        )
    UNION ALL BY NAME
    SELECT
        is_episode, condition_before, wearer, site_id, climate_group, cycle_number,
        1022 - 264 AS grouping_id, -- 264: grouped by site and climate
        sum(graded) AS graded,
        sum(measured) AS measured,
        sum(changed) AS changed
    FROM counted_in
    WHERE NOT is_episode AND rows_counted = 'headline'
    GROUP BY is_episode, condition_before, wearer, site_id, climate_group, cycle_number
    UNION ALL BY NAME
    SELECT
        is_episode, condition_before, wearer, site_id, climate_group, rows_counted,
        511 - 264 AS grouping_id,
        sum(graded) AS graded,
        sum(measured) AS measured,
        sum(changed) AS changed
    FROM counted_in
    WHERE is_first_cycle AND rows_counted <> 'headline'
    GROUP BY is_episode, condition_before, wearer, site_id, climate_group, rows_counted
),

-- Wearers met at several sites: none where ids are kept apart by site.
linked AS (
    SELECT wearer FROM packed GROUP BY wearer HAVING min(site_id) <> max(site_id)
),

-- Wearers with the same counts in the same group are alike: one row, and how many they are.
alike_at_site AS (
    SELECT * EXCLUDE (wearer), wearer IN (FROM linked) AS is_linked, count(*) AS wearers
    FROM at_site
    GROUP BY ALL
),

-- Wearers of several sites, which are few or none: whole where a group is of several sites.
linked_group AS (
    SELECT
        wearer, is_episode, condition_before, device_style, exposure, water_kind, season,
        climate_group, delay_band, device_age_band, cycle_number, rows_counted,
        grouping_id + 256 + 8 * grouping(climate_group) AS grouping_id,
        sum(graded) AS graded,
        sum(measured) AS measured,
        sum(changed) AS changed
    FROM at_site
    WHERE wearer IN (FROM linked)
    GROUP BY
        wearer, is_episode, condition_before, device_style, exposure, water_kind, season,
        delay_band, device_age_band, cycle_number, rows_counted, grouping_id,
        GROUPING SETS ((), (climate_group))
),

rolled_up AS (
    SELECT * EXCLUDE (is_linked) REPLACE (NULL AS climate_group, grouping_id + 8 AS grouping_id)
    FROM alike_at_site
    UNION ALL BY NAME
    SELECT * EXCLUDE (is_linked, site_id) REPLACE (grouping_id + 256 AS grouping_id)
    FROM alike_at_site
    WHERE NOT is_linked
    UNION ALL BY NAME
    SELECT * EXCLUDE (is_linked, site_id, climate_group) REPLACE (grouping_id + 264 AS grouping_id)
    FROM alike_at_site
    WHERE NOT is_linked
    UNION ALL BY NAME
    SELECT * EXCLUDE (wearer), 1 AS wearers FROM linked_group
),

alike AS (
    SELECT * EXCLUDE (wearers), sum(wearers)::BIGINT AS wearers
    FROM rolled_up
    WHERE
        grouping_id IN (
            1023, 767, 895, 959, 991, 1007, 1015, 1019, 1021, -- all; by each word
            -- by two: site and season, style and climate, season and climate, exposure and delay
            751, 887, 999, 955,
            1022, 511, 255 -- by cycle; by the rows counted, and these by site
        )
    GROUP BY ALL
),

unpacked AS (
    SELECT
        * EXCLUDE (graded, measured, changed),
        graded & 16777215 AS aids1,
        measured >> 96 AS aids2,
        (graded >> 24) & 16777215 AS open_episodes,
        (graded >> 48) & 16777215 AS n1,
        (graded >> 72) & 16777215 AS y1_sounds_again,
        graded >> 96 AS y1_back_to_normal,
        measured & 16777215 AS n2,
        (measured >> 24) & 16777215 AS unordered2,
        (measured >> 48) & 16777215 AS unordered1,
        (measured >> 72) & 16777215 AS y2_any_positive_change,
        changed & 16777215 AS y2_improved,
        (changed >> 24) & 16777215 AS y2_worsened,
        (changed >> 48) & 16777215 AS y2_mixed,
        changed >> 72 AS y2_unchanged
    FROM alike
)

SELECT
    if(u.is_episode, 'episode', 'first_cycle') AS unit,
    any_value(w.condition_before[u.condition_before]) AS condition_before,
    grouping_id,
    any_value(w.site_id[u.site_id]) AS site_id,
    any_value(w.device_style[u.device_style]) AS device_style,
    any_value(w.exposure[u.exposure]) AS exposure,
    any_value(w.water_kind[u.water_kind]) AS water_kind,
    any_value(w.season[u.season]) AS season,
    any_value(w.climate_group[u.climate_group]) AS climate_group,
    any_value(w.delay_band[u.delay_band]) AS delay_band,
    any_value(w.device_age_band[u.device_age_band]) AS device_age_band,
    cycle_number,
    rows_counted,
    sum(wearers * open_episodes)::BIGINT AS open_episodes,
    sum(wearers * COLUMNS('^unordered([12])$'))::BIGINT AS 'unordered\1',
    sum(wearers * COLUMNS('^n([12])$'))::BIGINT AS 'n\1',
    sum(wearers * COLUMNS('^n([12])$') ** 2)::BIGINT AS 'nn\1',
    sum(wearers * n1 * aids1)::BIGINT AS nt1,
    sum(wearers * n2 * aids2)::BIGINT AS nt2,
    coalesce(sum(wearers) FILTER (WHERE n1 > 0), 0)::BIGINT AS m1,
    coalesce(sum(wearers) FILTER (WHERE n2 > 0), 0)::BIGINT AS m2,
    sum(wearers * COLUMNS('^aids([12])$'))::BIGINT AS 't\1',
    sum(wearers * COLUMNS('^aids([12])$') ** 2)::BIGINT AS 'tt\1',
    coalesce(sum(wearers) FILTER (WHERE aids1 > 0), 0)::BIGINT AS m_t1,
    coalesce(sum(wearers) FILTER (WHERE aids2 > 0), 0)::BIGINT AS m_t2,
    sum(wearers * COLUMNS('^y[12]_(.*)$'))::BIGINT AS 'y_\1',
    sum(wearers * COLUMNS('^y[12]_(.*)$') ** 2)::BIGINT AS 'yy_\1',
    sum(wearers * COLUMNS('^y1_(.*)$') * aids1)::BIGINT AS 'yt_\1',
    sum(wearers * COLUMNS('^y2_(.*)$') * aids2)::BIGINT AS 'yt_\1',
    sum(wearers * COLUMNS('^y1_(.*)$') * n1)::BIGINT AS 'yn_\1',
    sum(wearers * COLUMNS('^y2_(.*)$') * n2)::BIGINT AS 'yn_\1',
    coalesce(sum(wearers * CAST(COLUMNS('^y1_(.*)$') ** 2 / nullif(n1, 0) AS DECIMAL(18, 9))), 0)
        AS 'yyn_\1',
    coalesce(sum(wearers * CAST(COLUMNS('^y2_(.*)$') ** 2 / nullif(n2, 0) AS DECIMAL(18, 9))), 0)
        AS 'yyn_\1'
FROM unpacked AS u
CROSS JOIN word AS w
GROUP BY
    u.is_episode, u.condition_before, grouping_id, u.site_id, u.device_style, u.exposure,
    u.water_kind, u.season, u.climate_group, u.delay_band, u.device_age_band, cycle_number,
    rows_counted
ORDER BY ALL
