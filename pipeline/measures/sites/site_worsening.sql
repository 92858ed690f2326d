-- Grain: one row per site and arm (1 dried, 0 cleaned only) of working aids.
-- Denominator: aids of working_outcome in the months reported; of a site those of one stratum, that
-- of worsening_stratum. assessed: graded or measured afterwards. worse: as is_worse of
-- working_headline. Sums over wearers and over site-weeks of those measured or stopped: n, k,
-- m clusters, sum of n*n, k*k, n*k. is_own_threshold: nine tenths of the measured aids were taken
-- with a box of 50 repeat pairs or more.
-- State: whole, made from worsening_arm and worsening_week.
WITH week AS (
    SELECT
        site_id, arm, count(*) AS m, sum(n * n)::BIGINT AS nn, sum(k * k)::BIGINT AS kk,
        sum(n * k)::BIGINT AS nk
    FROM worsening_week
    GROUP BY ALL
)

SELECT
    a.site_id,
    a.arm,
    a.stratum,
    a.assessed,
    a.stopped,
    a.measured,
    a.worse,
    a.wearers,
    a.measured > 0 AND coalesce(a.own_box / a.measured >= 0.9, false) AS is_own_threshold,
    if(a.n > 0, a.n, NULL) AS n,
    if(a.n > 0, a.k, NULL) AS k,
    if(a.n > 0, a.nn, NULL) AS nn_wearer,
    if(a.n > 0, a.kk, NULL) AS kk_wearer,
    if(a.n > 0, a.nk, NULL) AS nk_wearer,
    if(a.n > 0, a.m, NULL) AS m_wearer,
    w.nn AS nn_week,
    w.kk AS kk_week,
    w.nk AS nk_week,
    w.m AS m_week
FROM worsening_arm AS a
LEFT JOIN week AS w ON w.site_id = a.site_id AND w.arm = a.arm
ORDER BY a.site_id, a.arm
