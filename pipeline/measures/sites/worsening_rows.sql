-- Grain: one row per site and stratum of dried aids.
-- Denominator: dried aids of working_headline.
-- State: sums of wearers by site_id, stratum.
SELECT site_id, stratum, count(*) AS n
FROM working_headline
WHERE arm = 1
GROUP BY ALL
