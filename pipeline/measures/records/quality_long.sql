long AS (
    UNPIVOT wide ON COLUMNS(* EXCLUDE (site_id, month)) INTO NAME counted VALUE amount
)

SELECT
    site_id,
    month,
    substr(counted, 3) AS check_name,
    sum(amount) FILTER (WHERE counted LIKE 'n\_%' ESCAPE '\')::BIGINT AS numerator,
    sum(amount) FILTER (WHERE counted LIKE 'd\_%' ESCAPE '\')::BIGINT AS denominator
FROM long
GROUP BY ALL
HAVING denominator > 0
ORDER BY ALL
