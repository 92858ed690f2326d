-- Grain: one row per aid and outcome that sites are compared on by their aids' mix.
-- Denominator: rows of compared_outcome in the stratum of compared_stratum.
SELECT
    o.* EXCLUDE (rows_counted),
    c.stratum,
    hash(
        condition, exposure, delay_band, device_style, power_source, device_age_band, season
    ) AS pattern
FROM compared_outcome AS o
INNER JOIN compared_stratum AS c
    ON c.outcome = o.outcome AND c.site_id = o.site_id AND c.stratum = o.rows_counted
