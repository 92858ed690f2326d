-- Grain: one row per outcome, kind of wearer and pattern: clusters of one
-- site that have the same counts in the same patterns are one kind, with how many they are.
-- Denominator: rows of compared_aid; where an outcome has over 50 000 clusters, one in so many
-- of them, chosen by their hashes, since their mean is wanted and not their sum.
-- State: sums of wearers by outcome, site_id, kind, pattern, n, events.
WITH cell AS (
    SELECT
        outcome,
        site_id,
        cluster,
        pattern,
        count(*) AS n,
        count(*) FILTER (WHERE has_event) AS events
    FROM compared_aid
    GROUP BY ALL
),

one AS (
    SELECT
        c.outcome,
        c.site_id,
        list({'pattern': c.pattern, 'n': c.n, 'events': c.events} ORDER BY c.pattern) AS cells
    FROM cell AS c
    INNER JOIN compared_step AS e ON e.outcome = c.outcome
    WHERE c.cluster % e.step = 0
    GROUP BY c.outcome, c.site_id, c.cluster
),

alike AS (
    SELECT
        outcome,
        site_id,
        cells,
        count(*) AS clusters,
        hash(outcome, site_id, cells) AS kind
    FROM one
    GROUP BY outcome, site_id, cells
),

told AS (
    SELECT outcome, site_id, kind, clusters, unnest(cells) AS cell
    FROM alike
)

SELECT outcome, site_id, kind, clusters, cell.pattern, cell.n, cell.events
FROM told
ORDER BY outcome, kind, cell.pattern
