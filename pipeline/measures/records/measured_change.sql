-- Grain: one row per aid measured before and after, its change set against what noise gives.
-- Denominator: aids inside the rates with gain and at least one more deciding measure taken both
-- times. Both readings of a row share its test box and settings; the needed change is that
-- box's own. Specifications hold for the standard's settings only.
-- State: of wearer.
WITH change_needed AS (
    {change_needed}
),

specification AS (
    SELECT
        model_code,
        receiver_code,
        max(hfa_gain_spec_db) AS gain_spec,
        max(hfa_ospl90_spec_db_spl) AS ospl90_spec
    FROM device_model
    GROUP BY ALL
),

coupler AS (
    SELECT
        s.file_id,
        s.line,
        s.part_of_line,
        s.hfa_gain_before_db AS gain_before,
        s.hfa_gain_after_db AS gain_after,
        s.hfa_ospl90_before_db_spl AS ospl90_before,
        s.hfa_ospl90_after_db_spl AS ospl90_after,
        ln(if(s.thd_before_pct < 0.1, 0.1, s.thd_before_pct)) - ln(if(s.thd_after_pct < 0.1, 0.1, s.thd_after_pct)) AS thd_better,
        s.ein_before_db_spl - s.ein_after_db_spl AS ein_better,
        s.hfa_ospl90_before_db_spl IS NOT NULL AND s.hfa_ospl90_after_db_spl IS NOT NULL
        AND s.thd_before_pct IS NOT NULL AND s.thd_after_pct IS NOT NULL AS has_three,
        -- Specifications hold for the standard's settings only; as worn, the direction is all.
        CASE WHEN s.measured_settings IN ('full_on', 'reference_test') THEN m.gain_spec END
            AS gain_spec,
        CASE WHEN s.measured_settings IN ('full_on', 'reference_test') THEN m.ospl90_spec END
            AS ospl90_spec,
        p.gain_tolerance,
        p.ospl90_tolerance,
        {change_needed_here}
    FROM session_aid AS s
    CROSS JOIN change_needed_over_all AS p
    LEFT JOIN change_needed AS b ON b.site_id = s.site_id AND b.test_box_id = s.test_box_id
    LEFT JOIN specification AS m
        ON m.model_code = s.model_code AND m.receiver_code IS NOT DISTINCT FROM s.receiver_code
    WHERE
        NOT s.is_outside_rates AND s.hfa_gain_before_db IS NOT NULL AND s.hfa_gain_after_db IS NOT NULL
        AND (
            (s.hfa_ospl90_before_db_spl IS NOT NULL AND s.hfa_ospl90_after_db_spl IS NOT NULL)
            OR (s.thd_before_pct IS NOT NULL AND s.thd_after_pct IS NOT NULL)
        )
),

better AS (
    SELECT
        *,
        CASE
            WHEN gain_spec IS NULL THEN gain_after - gain_before
            WHEN gain_before IS NOT NULL AND gain_after IS NOT NULL
                THEN greatest(0, gain_spec - gain_before) - greatest(0, gain_spec - gain_after)
        END AS gain_better,
        CASE
            WHEN ospl90_spec IS NULL THEN ospl90_after - ospl90_before
            WHEN ospl90_before IS NOT NULL AND ospl90_after IS NOT NULL
                THEN greatest(0, ospl90_spec - ospl90_before) - greatest(0, ospl90_spec - ospl90_after)
        END AS ospl90_better,
        coalesce(gain_after > gain_spec + gain_tolerance
            AND gain_after - gain_before > gain_needed, false) AS is_gain_too_high,
        coalesce(ospl90_after > ospl90_spec + ospl90_tolerance
            AND ospl90_after - ospl90_before > ospl90_needed, false) AS is_ospl90_too_high
    FROM coupler
),

per_measure AS (
    SELECT
        file_id,
        line,
        part_of_line,
        CASE
            WHEN is_gain_too_high OR gain_better < -gain_needed THEN 'worse'
            WHEN gain_better > gain_needed THEN 'better'
            ELSE 'within_noise'
        END AS hfa_gain_change,
        CASE
            WHEN is_ospl90_too_high OR ospl90_better < -ospl90_needed THEN 'worse'
            WHEN ospl90_better > ospl90_needed THEN 'better'
            WHEN ospl90_better IS NOT NULL THEN 'within_noise'
        END AS hfa_ospl90_change,
        CASE
            WHEN thd_better < -thd_needed THEN 'worse'
            WHEN thd_better > thd_needed THEN 'better'
            WHEN thd_better IS NOT NULL THEN 'within_noise'
        END AS thd_change,
        gain_after > gain_before OR coalesce(ospl90_after > ospl90_before, false)
        OR coalesce(thd_better > 0, false) OR coalesce(ein_better > 0, false)
            AS is_any_positive_change,
        if(gain_spec IS NULL OR (ospl90_spec IS NULL AND ospl90_better IS NOT NULL),
            'direction_only', 'specification') AS change_basis,
        greatest(
            0,
            if(is_gain_too_high, gain_after - gain_before, -gain_better) / gain_needed,
            coalesce(
                if(is_ospl90_too_high, ospl90_after - ospl90_before, -ospl90_better)
                / ospl90_needed, 0
            ),
            coalesce(-thd_better / thd_needed, 0)
        ) AS worst_change_ratio
    FROM better
),

change AS (
    SELECT
        *,
        'better' IN (hfa_gain_change, coalesce(hfa_ospl90_change, ''), coalesce(thd_change, ''))
            AS is_better,
        'worse' IN (hfa_gain_change, coalesce(hfa_ospl90_change, ''), coalesce(thd_change, ''))
            AS is_worse
    FROM per_measure
)

UPDATE session_aid
SET
    hfa_gain_change = c.hfa_gain_change,
    hfa_ospl90_change = c.hfa_ospl90_change,
    thd_change = c.thd_change,
    measured_change = CASE
        WHEN c.is_better AND c.is_worse THEN 'mixed'
        WHEN c.is_better THEN 'improved'
        WHEN c.is_worse THEN 'worsened'
        ELSE 'unchanged'
    END,
    is_any_positive_change = c.is_any_positive_change,
    change_basis = c.change_basis,
    worst_change_ratio = c.worst_change_ratio
FROM change AS c
WHERE
    c.file_id = session_aid.file_id AND c.line = session_aid.line
    AND c.part_of_line = session_aid.part_of_line
    -- A row that holds its change already is left: a copy of last night's warehouse does not grow.
    AND (
        c.hfa_gain_change, c.hfa_ospl90_change, c.thd_change, c.is_any_positive_change,
        c.change_basis, c.worst_change_ratio
    ) IS DISTINCT FROM (
        session_aid.hfa_gain_change, session_aid.hfa_ospl90_change, session_aid.thd_change,
        session_aid.is_any_positive_change, session_aid.change_basis,
        session_aid.worst_change_ratio
    )
