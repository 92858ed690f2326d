-- Grain: one row per site, moment and set of wearers with the same counts.
-- Denominator: aids, dried or cleaned only, with a grade and a standing against specification at
-- that moment. first is graded not normal, second outside specification; at the moments 'both'
-- (dried aids) and 'both_cleaned_only', first is outside before and second outside after.
-- Outside: gain or OSPL90 further from the specification than the tolerance, or distortion above
-- its largest value and tolerance; input noise follows the room and decides nothing. A dead aid is
-- outside. Otherwise gain and one more are needed, in the standard's settings.
-- State: sums of wearers by site_id, moment, both_so, first_only, second_only, neither.
WITH specification AS (
    SELECT
        model_code,
        receiver_code,
        max(hfa_gain_spec_db) AS gain_spec,
        max(hfa_ospl90_spec_db_spl) AS ospl90_spec,
        max(thd_max_pct) AS thd_max
    FROM device_model
    GROUP BY ALL
),

aid AS (
    SELECT
        s.site_id,
        s.wearer_key,
        s.treatment,
        -- The grade that belongs to the measurement before drying.
        CASE s.before_measured_when
            WHEN 'before_cleaning' THEN s.condition_before
            ELSE s.condition_before_drying
        END AS grade_before,
        s.condition_after AS grade_after,
        s.measured_settings IN ('full_on', 'reference_test') AS is_standard,
        abs(s.hfa_gain_before_db - m.gain_spec) > getvariable('tolerances_hfa_gain_db')
            AS is_gain_out_before,
        abs(s.hfa_gain_after_db - m.gain_spec) > getvariable('tolerances_hfa_gain_db')
            AS is_gain_out_after,
        abs(s.hfa_ospl90_before_db_spl - m.ospl90_spec) > getvariable('tolerances_hfa_ospl90_db')
            AS is_ospl90_out_before,
        abs(s.hfa_ospl90_after_db_spl - m.ospl90_spec) > getvariable('tolerances_hfa_ospl90_db')
            AS is_ospl90_out_after,
        s.thd_before_pct > m.thd_max + getvariable('tolerances_thd_points') AS is_thd_out_before,
        s.thd_after_pct > m.thd_max + getvariable('tolerances_thd_points') AS is_thd_out_after,
        coalesce(s.assessed_before_by = 'coupler_measurement', false)
        OR coalesce(s.assessed_after_by = 'coupler_measurement', false) AS is_coupled
    FROM session_aid AS s
    LEFT JOIN specification AS m
        ON m.model_code = s.model_code AND m.receiver_code IS NOT DISTINCT FROM s.receiver_code
    WHERE NOT s.is_outside_rates
),

-- A dead aid has no reading; it counts where the aid was measured at the other moment.
standing AS (
    SELECT
        site_id,
        wearer_key,
        treatment,
        grade_before,
        grade_after,
        CASE
            WHEN is_coupled AND grade_before = 'dead' THEN true
            WHEN NOT is_standard OR is_gain_out_before IS NULL THEN NULL
            WHEN is_gain_out_before OR is_ospl90_out_before OR is_thd_out_before THEN true
            WHEN is_ospl90_out_before IS NOT NULL OR is_thd_out_before IS NOT NULL THEN false
        END AS is_outside_before,
        CASE
            WHEN is_coupled AND grade_after = 'dead' THEN true
            WHEN NOT is_standard OR is_gain_out_after IS NULL THEN NULL
            WHEN is_gain_out_after OR is_ospl90_out_after OR is_thd_out_after THEN true
            WHEN is_ospl90_out_after IS NOT NULL OR is_thd_out_after IS NOT NULL THEN false
        END AS is_outside_after
    FROM aid
),

judged AS (
    SELECT site_id, wearer_key, 'before' AS moment, grade_before <> 'normal' AS is_first,
        is_outside_before AS is_second
    FROM standing
    UNION ALL BY NAME
    SELECT site_id, wearer_key, 'after' AS moment, grade_after <> 'normal' AS is_first,
        is_outside_after AS is_second
    FROM standing
    UNION ALL BY NAME
    SELECT site_id, wearer_key, if(treatment = 'dried', 'both', 'both_cleaned_only') AS moment,
        is_outside_before AS is_first, is_outside_after AS is_second
    FROM standing
),

wearer AS (
    SELECT
        site_id,
        moment,
        wearer_key,
        count(*) FILTER (WHERE is_first AND is_second) AS both_so,
        count(*) FILTER (WHERE is_first AND NOT is_second) AS first_only,
        count(*) FILTER (WHERE NOT is_first AND is_second) AS second_only,
        count(*) FILTER (WHERE NOT is_first AND NOT is_second) AS neither
    FROM judged
    WHERE is_first IS NOT NULL AND is_second IS NOT NULL
    GROUP BY ALL
)

SELECT
    site_id,
    moment,
    both_so,
    first_only,
    second_only,
    neither,
    count(*) AS wearers
FROM wearer
GROUP BY ALL
ORDER BY ALL
