-- Grain: one row: whether groups of wearers stand for them, and how many a site has.
-- Denominator: that of comparison_size.
-- State: whole, made from comparison_size.
WITH size AS (
    SELECT coalesce(sum(wearers), 0) AS wearers, count(*) AS sites FROM comparison_size
)

SELECT
    wearers > 20000 AS is_many,
    CASE WHEN wearers > 20000 THEN greatest(10, 5000 // sites) END AS groups_per_site
FROM size
