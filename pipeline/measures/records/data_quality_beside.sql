-- Grain: one row per site, month and check of weeks, files, chambers and sites; without a month where
-- the check is of files or of the present state.
-- Denominator: named beside each check.
-- State: whole, small tables.
WITH of_weeks AS (
    SELECT
        site_id,
        month,
        max(weeks_without_data) AS n_weeks_without_data,
        -- Weeks of the month that lie between the site's first and last day with data.
        max(weeks_covered) AS d_weeks_without_data
    FROM utilisation
    GROUP BY site_id, month
),

refused AS (
    SELECT f.site_id, count(DISTINCT (v.file_id, v.table_name, v.line, v.part_of_line)) AS lines
    FROM refused_value AS v
    INNER JOIN (SELECT DISTINCT file_id, site_id FROM row_account WHERE is_live) AS f
        ON f.file_id = v.file_id
    GROUP BY f.site_id
),

of_files AS (
    SELECT
        a.site_id,
        NULL::DATE AS month,
        sum(a.quarantined)::BIGINT AS n_rows_refused,
        sum(a.rows_read)::BIGINT AS d_rows_refused,
        sum(a.duplicate)::BIGINT AS n_duplicate_rows,
        sum(a.rows_read)::BIGINT AS d_duplicate_rows,
        coalesce(any_value(r.lines), 0) AS n_rows_with_refused_values,
        sum(a.rows_read)::BIGINT AS d_rows_with_refused_values
    FROM row_account AS a
    LEFT JOIN refused AS r ON r.site_id = a.site_id
    WHERE a.is_live AND a.site_id IS NOT NULL
    GROUP BY a.site_id
),

of_chambers AS (
    SELECT
        site_id,
        NULL::DATE AS month,
        count(*) FILTER (WHERE standing IN ('never_checked', 'overdue'))
            AS n_chambers_without_check,
        count(*) AS d_chambers_without_check
    FROM dryer_calibration
    WHERE removed_on IS NULL
    GROUP BY site_id
),

of_sites AS (
    SELECT
        site_id,
        NULL::DATE AS month,
        (coalesce(getvariable('as_of') - last_local_date > 14, true))::BIGINT
            AS n_nothing_for_two_weeks,
        1::BIGINT AS d_nothing_for_two_weeks
    FROM site
    WHERE coalesce(closed_on > getvariable('as_of'), true)
),

wide AS (
    SELECT * FROM of_weeks
    UNION ALL BY NAME SELECT * FROM of_files
    UNION ALL BY NAME SELECT * FROM of_chambers
    UNION ALL BY NAME SELECT * FROM of_sites
),

{quality_long}
