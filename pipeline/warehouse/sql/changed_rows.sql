-- Grain: one row per accepted row that one version of a file holds and the other does not.
-- Denominator: all accepted rows of both versions; rows are compared by all their columns but
-- those of where they were read.
WITH earlier AS (
    SELECT hash({columns}) AS content, line, {month} AS day FROM read_parquet($earlier)
    WHERE file_id = $earlier_id
),

now AS (
    SELECT hash({columns}) AS content, line, {month} AS day FROM read_parquet($now)
    WHERE file_id = $now_id
)

SELECT true AS is_new, line, day FROM now WHERE content NOT IN (SELECT content FROM earlier)
UNION ALL
SELECT false, line, day FROM earlier WHERE content NOT IN (SELECT content FROM now)
ORDER BY ALL
