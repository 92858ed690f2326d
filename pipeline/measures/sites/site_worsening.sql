-- Grain: one row per site and arm (1 dried, 0 cleaned only) of working aids.
-- Denominator: aids of working_outcome in the months reported; of a site those of one stratum, the
-- first that its dried aids have: 'headline', in the analysis set of measured_change and the
-- headline's order of measurements; 'other_order', where those are the more; 'left_out', where
-- every quarter of the site is out. assessed: graded or measured afterwards. worse: of the measured and still
-- working, one deciding measure worse by over 1.5 times the change that counts at the site's own
-- box, and none better. Sums over wearers and over site-weeks of those measured or stopped: n, k,
-- m clusters, sum of n*n, k*k, n*k. is_own_threshold: nine tenths of the measured aids were taken
-- with a box of 50 repeat pairs or more.
-- State: of site.
WITH own_box AS (
    SELECT site_id, test_box_id
    FROM measurement_repeatability
    WHERE test_box_id IS NOT NULL AND measure = 'hfa_gain' AND pairs >= 50
),

treated AS (
    SELECT
        w.site_id,
        w.arm,
        h.measured_rows_counted AS stratum,
        hash(w.wearer_key) AS wearer,
        date_trunc('week', w.local_date)::DATE AS week,
        w.is_stopped,
        w.is_measured,
        w.is_measured AND w.measured_change = 'worsened' AND h.worst_change_ratio > 1.5 AS is_worse,
        b.test_box_id IS NOT NULL AS is_own_box
    FROM working_outcome AS w
    INNER JOIN headline_aid AS h
        ON h.file_id = w.file_id AND h.line = w.line AND h.part_of_line = w.part_of_line
        AND h.measured_rows_counted <> 'before_period'
    LEFT JOIN own_box AS b ON b.site_id = w.site_id AND b.test_box_id = w.test_box_id
    WHERE w.is_assessed
),

chosen AS (
    SELECT
        site_id,
        CASE
            WHEN count(*) FILTER (WHERE stratum = 'headline')
                >= greatest(1, count(*) FILTER (WHERE stratum = 'other_order'))
                THEN 'headline'
            WHEN count(*) FILTER (WHERE stratum = 'other_order') > 0 THEN 'other_order'
            ELSE 'left_out'
        END AS stratum
    FROM treated
    WHERE arm = 1
    GROUP BY ALL
),

aid AS (
    SELECT t.*
    FROM treated AS t
    SEMI JOIN chosen AS c ON c.site_id = t.site_id AND c.stratum = t.stratum
),

arm AS (
    SELECT
        site_id,
        arm,
        any_value(stratum) AS stratum,
        count(*) AS assessed,
        count(*) FILTER (WHERE is_stopped) AS stopped,
        count(*) FILTER (WHERE is_measured) AS measured,
        count(*) FILTER (WHERE is_worse) AS worse,
        count(DISTINCT wearer) AS wearers,
        coalesce(avg(is_own_box::INTEGER) FILTER (WHERE is_measured) >= 0.9, false)
            AS is_own_threshold
    FROM aid
    GROUP BY ALL
),

clustered AS (
    SELECT site_id, arm, 'wearer' AS kind, wearer::VARCHAR AS cluster, is_stopped OR is_worse AS y
    FROM aid
    WHERE is_measured OR is_stopped
    UNION ALL
    SELECT site_id, arm, 'week' AS kind, week::VARCHAR AS cluster, is_stopped OR is_worse AS y
    FROM aid
    WHERE is_measured OR is_stopped
),

cluster AS (
    SELECT site_id, arm, kind, cluster, count(*) AS n, count(*) FILTER (WHERE y) AS k
    FROM clustered
    GROUP BY ALL
),

summed AS (
    SELECT
        site_id,
        arm,
        max(n) FILTER (WHERE kind = 'wearer') AS n,
        max(k) FILTER (WHERE kind = 'wearer') AS k,
        max(nn) FILTER (WHERE kind = 'wearer') AS nn_wearer,
        max(kk) FILTER (WHERE kind = 'wearer') AS kk_wearer,
        max(nk) FILTER (WHERE kind = 'wearer') AS nk_wearer,
        max(m) FILTER (WHERE kind = 'wearer') AS m_wearer,
        max(nn) FILTER (WHERE kind = 'week') AS nn_week,
        max(kk) FILTER (WHERE kind = 'week') AS kk_week,
        max(nk) FILTER (WHERE kind = 'week') AS nk_week,
        max(m) FILTER (WHERE kind = 'week') AS m_week
    FROM (
        SELECT
            site_id, arm, kind, count(*) AS m, sum(n)::BIGINT AS n, sum(k)::BIGINT AS k,
            sum(n * n)::BIGINT AS nn, sum(k * k)::BIGINT AS kk, sum(n * k)::BIGINT AS nk
        FROM cluster
        GROUP BY ALL
    )
    GROUP BY site_id, arm
)

SELECT a.*, s.* EXCLUDE (site_id, arm)
FROM arm AS a
LEFT JOIN summed AS s ON s.site_id = a.site_id AND s.arm = a.arm
ORDER BY a.site_id, a.arm
