-- Grain: one row per site and quarter with a session or comparison visit: what judges its records.
-- Denominators: rows_read, rows of the quarter that count and those refused; measured_twice, aids
-- with two of gain, output and distortion before and after. A refused row without a day that can
-- be read is shared out over the quarters of its file by their rows that count.
-- State: whole, refused rows name no site and the period ends on the last day of all.
WITH last AS (
    SELECT max(local_date) AS last_day FROM session_aid
),

period AS (
    SELECT
        CASE
            WHEN getvariable('report_months') > 0 THEN date_trunc(
                'quarter',
                date_trunc('month', last_day) - to_months(getvariable('report_months')::INTEGER - 1)
            )::DATE
        END AS starts_on
    FROM last
),

accepted AS (
    SELECT
        site_id,
        file_id,
        date_trunc('quarter', local_date)::DATE AS quarter,
        count(*) AS n
    FROM session_aid
    GROUP BY ALL
),

refused_row AS (
    SELECT DISTINCT
        a.site_id,
        q.file_id,
        q.line,
        q.part_of_line,
        date_trunc(
            'quarter',
            try_cast(left(json_extract_string(q.row_json, '$.started_at'), 10) AS DATE)
        )::DATE AS quarter
    FROM quarantined_row AS q
    INNER JOIN row_account AS a
        ON a.file_id = q.file_id AND a.table_name = q.table_name AND a.is_live
    WHERE q.table_name = 'sessions' AND q.row_json IS NOT NULL
),

refused AS (
    SELECT site_id, quarter, count(*)::DOUBLE AS n
    FROM refused_row
    WHERE quarter IS NOT NULL
    GROUP BY ALL
    UNION ALL
    SELECT u.site_id, c.quarter, u.n * c.n / sum(c.n) OVER (PARTITION BY c.site_id, c.file_id) AS n
    FROM (
        SELECT site_id, file_id, count(*) AS n FROM refused_row WHERE quarter IS NULL GROUP BY ALL
    ) AS u
    INNER JOIN accepted AS c ON c.site_id = u.site_id AND c.file_id = u.file_id
),

refused_quarter AS (
    SELECT site_id, quarter, sum(n) AS n FROM refused GROUP BY ALL
),

counted AS (
    SELECT
        site_id,
        date_trunc('quarter', local_date)::DATE AS quarter,
        min(month) AS first_month,
        max(month) AS last_month,
        count(*) AS accepted,
        count(is_copied) AS measured_twice,
        count(*) FILTER (WHERE is_copied) AS copied
    FROM measured_aid
    GROUP BY ALL
)

SELECT
    c.site_id,
    c.quarter,
    c.first_month,
    c.last_month,
    c.measured_twice,
    c.copied,
    c.accepted + coalesce(r.n, 0) AS rows_read,
    coalesce(r.n, 0) AS rows_refused,
    coalesce(c.quarter >= p.starts_on, true) AS is_in_period
FROM counted AS c
CROSS JOIN period AS p
LEFT JOIN refused_quarter AS r ON r.site_id = c.site_id AND r.quarter = c.quarter
ORDER BY ALL
