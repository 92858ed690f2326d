-- Grain: one row per dose check of the sites chosen, numbered from 0 in the order of chamber,
-- service and time.
-- Denominator: dose checks that count, blanks among them.
WITH since AS (
    SELECT c.*, e.occurred_on AS served_on
    FROM dose_check AS c
    ASOF LEFT JOIN (SELECT DISTINCT site_id, dryer_id, occurred_on FROM dryer_event) AS e
        ON e.site_id = c.site_id AND e.dryer_id = c.dryer_id AND e.occurred_on <= c.local_date
    WHERE list_contains($sites, c.site_id)
)

SELECT
    row_number() OVER (
        ORDER BY
            site_id, dryer_id, served_on NULLS FIRST, local_date, checked_at_utc, replicate,
            file_id, line, part_of_line
    ) - 1 AS check_number,
    dense_rank() OVER (ORDER BY site_id, dryer_id, served_on NULLS FIRST) - 1 AS chamber_number,
    site_id,
    dryer_id,
    served_on,
    local_date,
    dose_ul,
    reading_ul,
    tolerance_ul,
    coalesce(dose_uncertainty_pct, 0) / 100 * dose_ul AS dose_sd_ul
FROM since
ORDER BY check_number
