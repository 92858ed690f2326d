-- Grain: one row per site and arm, with its stratum: aids, and sums over wearers of those measured or
-- stopped.
-- Denominator: aids of working_headline in the stratum of worsening_stratum.
-- State: sums of wearers by site_id, arm, stratum.
WITH wearer AS (
    SELECT
        w.site_id,
        w.arm,
        w.stratum,
        w.wearer,
        count(*) AS assessed,
        count(*) FILTER (WHERE is_stopped) AS stopped,
        count(*) FILTER (WHERE is_measured) AS measured,
        count(*) FILTER (WHERE is_measured AND is_own_box) AS own_box,
        count(*) FILTER (WHERE is_worse) AS worse,
        count(*) FILTER (WHERE is_measured OR is_stopped) AS n,
        count(*) FILTER (WHERE (is_measured OR is_stopped) AND (is_stopped OR is_worse)) AS k
    FROM working_headline AS w
    SEMI JOIN worsening_stratum AS c ON c.site_id = w.site_id AND c.stratum = w.stratum
    GROUP BY ALL
)

SELECT
    site_id,
    arm,
    stratum,
    sum(assessed)::BIGINT AS assessed,
    sum(stopped)::BIGINT AS stopped,
    sum(measured)::BIGINT AS measured,
    sum(own_box)::BIGINT AS own_box,
    sum(worse)::BIGINT AS worse,
    count(*) AS wearers,
    sum(n)::BIGINT AS n,
    sum(k)::BIGINT AS k,
    sum(n * n)::BIGINT AS nn,
    sum(k * k)::BIGINT AS kk,
    sum(n * k)::BIGINT AS nk,
    count(*) FILTER (WHERE n > 0) AS m
FROM wearer
GROUP BY ALL
