-- Grain: one row per row that counts and column of its session on which the rows disagree.
-- Denominator: sessions with two or more rows that count.
WITH live_row AS (
    SELECT
        r.file_id,
        r.line,
        r.part_of_line,
        r.site_id,
        r.session_key,
        r.dryer_id,
        r.started_at,
        p.cycle_programme,
        p.cycle_minutes,
        p.ended_by,
        p.moisture_ul,
        p.is_moisture_below_detection,
        p.other_items_in_chamber,
        p.chamber_pressure_min_kpa_abs,
        p.chamber_temp_max_c
    FROM session_row AS r
    ANTI JOIN verdict_sessions AS v ON v.file_id = r.file_id AND v.line = r.line AND v.part_of_line = r.part_of_line
    JOIN session_load AS l
        ON l.site_id = r.site_id AND l.session_key = r.session_key AND l.aids_counted > 1
    JOIN part_sessions AS p ON p.file_id = r.file_id AND p.line = r.line AND p.part_of_line = r.part_of_line
),
named_value AS (
    SELECT
        file_id,
        line,
        part_of_line,
        site_id,
        session_key,
        unnest([
            'dryer_id', 'started_at', 'cycle_programme', 'cycle_minutes', 'ended_by',
            'moisture_ul', 'is_moisture_below_detection', 'other_items_in_chamber',
            'chamber_pressure_min_kpa_abs', 'chamber_temp_max_c'
        ]) AS column_name,
        unnest([
            dryer_id,
            strftime(started_at, '%Y-%m-%dT%H:%M:%SZ'),
            cycle_programme,
            cycle_minutes::VARCHAR,
            ended_by,
            moisture_ul::VARCHAR,
            is_moisture_below_detection::VARCHAR,
            other_items_in_chamber,
            chamber_pressure_min_kpa_abs::VARCHAR,
            chamber_temp_max_c::VARCHAR
        ]) AS found
    FROM live_row
),
disagreed AS (
    SELECT site_id, session_key, column_name
    FROM named_value
    GROUP BY site_id, session_key, column_name
    HAVING min(found) <> max(found)
)
SELECT n.file_id, n.line, n.part_of_line, n.column_name, n.found
FROM named_value AS n
JOIN disagreed AS d
    ON d.site_id = n.site_id AND d.session_key = n.session_key AND d.column_name = n.column_name
WHERE n.found IS NOT NULL
