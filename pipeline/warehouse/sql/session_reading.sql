-- Grain: one row per session that counts: its own columns, agreed over its rows.
-- Denominator: sessions with at least one row that counts. Where rows disagree on a column of
-- the session, the column is null and the values are listed as refused.
-- Placeholders: the columns of a load, {read} of its rows, {agreed} over them, {alone} of a load
-- of one row, {judged} in the end; {disagreed} tells that its rows differ on one.
WITH own_column AS (
    SELECT
        r.session_at,
        r.site_id,
        r.session_key,
        r.aids_in_chamber,
        r.aids_counted,
        r.treatment,
        r.dryer_id,
        p.started_at,
        p.local_date,
        p.time_precision,
        {read}
    FROM placed_sessions AS p
    JOIN live_row AS r ON r.row_at = p.row_at
),
agreed AS (
    SELECT
        session_at,
        any_value(site_id) AS site_id,
        any_value(session_key) AS session_key,
        min(treatment) AS treatment,
        CASE WHEN min(dryer_id) = max(dryer_id) THEN min(dryer_id) END AS dryer_id,
        min(started_at) AS started_at,
        arg_min(local_date, started_at) AS local_date,
        max(time_precision) AS time_precision,
        {agreed},
        any_value(aids_in_chamber) AS aids_in_chamber,
        any_value(aids_counted) AS aids_counted,
        coalesce(min(dryer_id) <> max(dryer_id), false)
        OR coalesce(min(started_at) <> max(started_at), false)
        OR {disagreed} AS is_disagreed
    FROM own_column
    WHERE aids_counted > 1
    GROUP BY session_at
    UNION ALL
    SELECT
        session_at,
        site_id,
        session_key,
        treatment,
        dryer_id,
        started_at,
        local_date,
        time_precision,
        {alone},
        aids_in_chamber,
        aids_counted,
        false AS is_disagreed
    FROM own_column
    WHERE aids_counted = 1
),
-- Lines are looked up by day: the search carries three columns, not all of a session.
chamber_day AS (
    SELECT DISTINCT site_id, dryer_id, local_date
    FROM agreed
    WHERE dryer_id IS NOT NULL
),
line_of_day AS (
    SELECT
        c.* EXCLUDE (site_id, dryer_id),
        d.site_id,
        d.dryer_id,
        d.local_date
    FROM chamber_day AS d
    ASOF JOIN calibration_line AS c
        ON c.site_id = d.site_id AND c.dryer_id = d.dryer_id AND c.known_from <= d.local_date
),
calibrated AS (
    SELECT
        a.*,
        c.known_from,
        c.last_checked_on,
        c.reading_standing,
        c.intercept_ul,
        c.slope,
        greatest(d.detection_limit_ul, c.blank_limit_ul) AS limit_ul,
        coalesce(c.is_applied, false)
        AND coalesce(
            a.moisture_ul IS NULL
            OR (a.moisture_ul - c.intercept_ul) / c.slope
            BETWEEN CASE WHEN c.lowest_dose_ul = 0 THEN -1e9 ELSE c.lowest_dose_ul END
            AND c.highest_dose_ul,
            false
        ) AS has_line
    FROM agreed AS a
    LEFT JOIN line_of_day AS c
        ON c.site_id = a.site_id AND c.dryer_id = a.dryer_id AND c.local_date = a.local_date
    LEFT JOIN dryer AS d ON d.site_id = a.site_id AND d.dryer_id = a.dryer_id
),
judged AS (
    SELECT
        *,
        CASE
            WHEN treatment <> 'dried' THEN NULL
            -- Either says so; where one is not known, the other decides.
            ELSE coalesce(
                is_moisture_below_detection OR moisture_ul < limit_ul,
                is_moisture_below_detection,
                moisture_ul < limit_ul
            )
        END AS is_below_detection,
        CASE
            WHEN treatment <> 'dried' OR dryer_id IS NULL THEN NULL
            ELSE chamber_standing(
                local_date - last_checked_on, reading_standing,
                getvariable('dose_check_overdue_days')
            )
        END AS standing
    FROM calibrated
)
SELECT
    j.session_at,
    j.site_id,
    j.session_key,
    j.treatment,
    j.dryer_id,
    j.started_at,
    j.local_date,
    j.time_precision,
    {judged},
    j.is_below_detection,
    j.standing,
    CASE
        WHEN j.treatment = 'dried'
            THEN j.chamber_pressure_min_kpa_abs > saturation_pressure_kpa(j.chamber_temp_max_c)
    END AS is_boiling_not_possible,
    CASE
        -- A line that puts the limit at zero or under says nothing of it: the limit as read stands.
        WHEN j.has_line AND j.limit_ul > j.intercept_ul
            THEN (j.limit_ul - j.intercept_ul) / j.slope
        ELSE j.limit_ul
    END AS moisture_limit_ul,
    CASE
        WHEN j.has_line AND NOT coalesce(j.is_below_detection, false)
            THEN greatest((j.moisture_ul - j.intercept_ul) / j.slope, 0)
    END AS moisture_corrected_ul,
    CASE
        WHEN j.moisture_ul IS NULL AND NOT coalesce(j.is_below_detection, false) THEN NULL
        WHEN j.has_line THEN 'corrected'
        ELSE 'as_read'
    END AS moisture_basis,
    j.aids_in_chamber,
    j.aids_counted,
    j.aids_in_chamber = j.aids_counted AS is_complete,
    j.aids_in_chamber = 1 AND coalesce(j.other_items_in_chamber, 'none') = 'none' AS is_alone,
    j.is_disagreed
FROM judged AS j
