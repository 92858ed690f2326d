-- Grain: one row per site, month and check of aids and loads.
-- Denominator: named beside each check.
-- State: sums of wearers by site_id, month, check_name.
WITH specification AS (
    SELECT
        model_code,
        receiver_code,
        bool_or(vacuum_allowed) AS is_vacuum_allowed,
        max(hfa_ospl90_spec_db_spl) AS ospl90_spec
    FROM device_model
    GROUP BY ALL
),

gone AS (
    SELECT site_id, device_id, min(occurred_on) AS gone_on
    FROM service_event
    WHERE event IN ('replaced', 'lost', 'retired')
    GROUP BY ALL
),

repair_event AS (
    SELECT site_id, device_id, occurred_on, max(event) AS event
    FROM service_event
    WHERE event IN ('sent_for_repair', 'back_from_repair')
    GROUP BY ALL
),

-- From the day after an aid was sent for repair to the day of its next event.
in_repair AS (
    SELECT
        site_id, device_id, occurred_on AS sent_on,
        lead(occurred_on) OVER (PARTITION BY site_id, device_id ORDER BY occurred_on) AS next_on
    FROM repair_event
    QUALIFY event = 'sent_for_repair'
),

aid AS (
    SELECT
        s.site_id,
        s.month,
        s.treatment = 'dried' AS is_dried,
        s.condition_after,
        s.condition_after_cleaning,
        s.device_id,
        s.patient_id,
        s.exposure,
        s.exposure IN ('immersion', 'splash') AS is_wet,
        s.delay_band,
        s.treatment = 'dried' AND s.power_source = 'zinc_air' AS is_zinc_air,
        s.cell_in_chamber,
        s.treatment = 'dried' AND s.power_source = 'lithium_ion'
        AND coalesce(s.cell_in_chamber, '') = 'built_in' AS is_sealed_lithium,
        m.is_vacuum_allowed,
        s.treatment = 'dried' AND s.exposure = 'immersion'
        AND s.disposition = 'returned_to_wearer' AS is_immersed_and_returned,
        CASE WHEN s.treatment = 'dried' AND s.measured_settings IN ('full_on', 'reference_test')
            THEN s.hfa_ospl90_after_db_spl > m.ospl90_spec + t.ospl90_tolerance END
            AS is_output_high,
        s.is_copied,
        g.gone_on < s.local_date AS is_after_gone,
        r.sent_on IS NOT NULL AS is_in_repair,
        s.fitted_on > s.local_date AS is_before_fitting,
        coalesce(s.device_style, 'unknown') = 'unknown' AS is_style_missing,
        coalesce(s.ear, 'unknown') = 'unknown' AS is_ear_missing,
        coalesce(s.power_source, 'unknown') = 'unknown' AS is_power_missing,
        s.model_code IS NULL AS is_model_missing,
        s.device_age_band IS NULL AS is_age_missing,
        coalesce(s.visit_reason, 'unknown') = 'unknown' AS is_reason_missing,
        s.parts_changed IS NULL OR list_contains(s.parts_changed, 'unknown') AS is_parts_missing,
        coalesce(s.water_kind, 'unknown') = 'unknown' AS is_water_missing,
        coalesce(s.disposition, 'unknown') = 'unknown' AS is_disposition_missing,
        coalesce(s.assessed_after_by, 'unknown') = 'unknown' AS is_assessed_by_missing,
        coalesce(s.hfa_gain_before_db, s.hfa_gain_after_db, s.hfa_ospl90_before_db_spl,
            s.hfa_ospl90_after_db_spl) IS NOT NULL AS is_measured,
        s.test_box_id IS NULL AS is_box_missing,
        coalesce(s.measured_settings, 'unknown') = 'unknown' AS is_settings_missing,
        s.hours_since_exposure,
        CASE WHEN s.treatment = 'dried' AND s.condition_before_drying <> 'normal'
            THEN s.condition_after = s.condition_before_drying END AS is_condition_same
    FROM measured_aid AS s
    CROSS JOIN quality_tolerance AS t
    LEFT JOIN specification AS m
        ON m.model_code = s.model_code AND m.receiver_code IS NOT DISTINCT FROM s.receiver_code
    LEFT JOIN in_repair AS r
        ON r.site_id = s.site_id AND r.device_id = s.device_id
        AND s.local_date > r.sent_on AND s.local_date <= coalesce(r.next_on, DATE '9999-12-31')
    LEFT JOIN gone AS g ON g.site_id = s.site_id AND g.device_id = s.device_id
),

of_aids AS (
    SELECT
        site_id,
        month,
        -- Dried aids.
        count(*) FILTER (WHERE is_dried AND condition_after IS NULL) AS n_condition_after_missing,
        count(*) FILTER (WHERE is_dried) AS d_condition_after_missing,
        count(*) FILTER (WHERE is_dried AND condition_after_cleaning IS NULL)
            AS n_condition_after_cleaning_missing,
        count(*) FILTER (WHERE is_dried) AS d_condition_after_cleaning_missing,
        -- All aids.
        count(*) FILTER (WHERE device_id IS NULL) AS n_device_id_missing,
        count(*) AS d_device_id_missing,
        count(*) FILTER (WHERE patient_id IS NULL) AS n_patient_id_missing,
        count(*) AS d_patient_id_missing,
        count(*) FILTER (WHERE coalesce(exposure, 'unknown') = 'unknown') AS n_exposure_missing,
        count(*) AS d_exposure_missing,
        -- Immersed or splashed aids.
        count(*) FILTER (WHERE is_wet AND delay_band IS NULL) AS n_delay_missing,
        count(*) FILTER (WHERE is_wet) AS d_delay_missing,
        -- Missing by column.
        count(*) FILTER (WHERE is_style_missing) AS n_device_style_missing,
        count(*) AS d_device_style_missing,
        count(*) FILTER (WHERE is_ear_missing) AS n_ear_missing,
        count(*) AS d_ear_missing,
        count(*) FILTER (WHERE is_power_missing) AS n_power_source_missing,
        count(*) AS d_power_source_missing,
        count(*) FILTER (WHERE is_model_missing) AS n_model_code_missing,
        count(*) AS d_model_code_missing,
        count(*) FILTER (WHERE is_age_missing) AS n_device_age_missing,
        count(*) AS d_device_age_missing,
        count(*) FILTER (WHERE is_reason_missing) AS n_visit_reason_missing,
        count(*) AS d_visit_reason_missing,
        count(*) FILTER (WHERE is_parts_missing) AS n_parts_changed_missing,
        count(*) AS d_parts_changed_missing,
        count(*) FILTER (WHERE is_wet AND is_water_missing) AS n_water_kind_missing,
        count(*) FILTER (WHERE is_wet) AS d_water_kind_missing,
        count(*) FILTER (WHERE is_dried AND is_disposition_missing) AS n_disposition_missing,
        count(*) FILTER (WHERE is_dried) AS d_disposition_missing,
        count(*) FILTER (WHERE is_zinc_air AND coalesce(cell_in_chamber, 'unknown') = 'unknown') AS n_cell_in_chamber_missing,
        count(*) FILTER (WHERE is_zinc_air) AS d_cell_in_chamber_missing,
        count(*) FILTER (WHERE condition_after IS NOT NULL AND is_assessed_by_missing) AS n_assessed_by_missing,
        count(*) FILTER (WHERE condition_after IS NOT NULL) AS d_assessed_by_missing,
        count(*) FILTER (WHERE is_measured AND is_box_missing) AS n_test_box_missing,
        count(*) FILTER (WHERE is_measured) AS d_test_box_missing,
        count(*) FILTER (WHERE is_measured AND is_settings_missing) AS n_measured_settings_missing,
        count(*) FILTER (WHERE is_measured) AS d_measured_settings_missing,
        -- Problem aids dried and judged.
        count(*) FILTER (WHERE is_condition_same) AS n_condition_copied_forward,
        count(is_condition_same) AS d_condition_copied_forward,
        -- Delays in hours.
        count(*) FILTER (WHERE hours_since_exposure > 0 AND hours_since_exposure % 24 = 0)
            AS n_hours_in_whole_days,
        count(*) FILTER (WHERE hours_since_exposure > 0) AS d_hours_in_whole_days,
        -- Aids with two of gain, output and distortion before and after.
        count(*) FILTER (WHERE is_copied) AS n_measures_copied_forward,
        count(is_copied) AS d_measures_copied_forward,
        -- Dried aids measured after drying, with a specification.
        count(*) FILTER (WHERE is_output_high) AS n_output_above_specification,
        count(is_output_high) AS d_output_above_specification,
        -- Dried aids with zinc-air cells.
        count(*) FILTER (WHERE is_zinc_air AND cell_in_chamber = 'left_in')
            AS n_zinc_air_cell_left_in,
        count(*) FILTER (WHERE is_zinc_air) AS d_zinc_air_cell_left_in,
        -- Dried aids with a built-in lithium cell.
        count(*) FILTER (WHERE is_sealed_lithium AND is_vacuum_allowed IS NULL)
            AS n_sealed_lithium_without_permission,
        count(*) FILTER (WHERE is_sealed_lithium) AS d_sealed_lithium_without_permission,
        count(*) FILTER (WHERE is_sealed_lithium AND NOT is_vacuum_allowed)
            AS n_sealed_lithium_against_permission,
        count(*) FILTER (WHERE is_sealed_lithium) AS d_sealed_lithium_against_permission,
        -- Immersed aids dried and returned.
        count(*) FILTER (WHERE is_immersed_and_returned AND condition_after = 'dead')
            AS n_returned_dead_after_immersion,
        count(*) FILTER (WHERE is_immersed_and_returned) AS d_returned_dead_after_immersion,
        count(*) FILTER (WHERE is_immersed_and_returned AND condition_after IS NULL)
            AS n_returned_unchecked_after_immersion,
        count(*) FILTER (WHERE is_immersed_and_returned) AS d_returned_unchecked_after_immersion,
        -- Aids with an id.
        count(*) FILTER (WHERE is_after_gone) AS n_seen_after_gone,
        count(device_id) AS d_seen_after_gone,
        count(*) FILTER (WHERE is_in_repair) AS n_seen_during_repair,
        count(device_id) AS d_seen_during_repair,
        -- Aids with a day of fitting.
        count(*) FILTER (WHERE is_before_fitting) AS n_seen_before_fitting,
        count(is_before_fitting) AS d_seen_before_fitting
    FROM aid
    GROUP BY site_id, month
),

of_loads AS (
    SELECT
        site_id,
        month,
        count(*) FILTER (WHERE moisture_ul IS NULL AND NOT coalesce(is_below_detection, false)
            AND NOT coalesce(is_moisture_below_detection, false)) AS n_moisture_missing,
        count(*) AS d_moisture_missing,
        count(*) FILTER (WHERE moisture_ul > 0 AND moisture_ul = floor(moisture_ul))
            AS n_whole_moisture_readings,
        count(*) FILTER (WHERE moisture_ul > 0) AS d_whole_moisture_readings,
        count(*) FILTER (WHERE NOT is_complete) AS n_incomplete_loads,
        count(*) AS d_incomplete_loads,
        count(*) FILTER (WHERE cycle_minutes > getvariable('cycle_minutes_flag')) AS n_long_cycles,
        count(cycle_minutes) AS d_long_cycles,
        count(*) FILTER (WHERE cycle_minutes IS NULL) AS n_cycle_minutes_missing,
        count(*) AS d_cycle_minutes_missing,
        count(*) FILTER (WHERE coalesce(ended_by, 'unknown') = 'unknown') AS n_ended_by_missing,
        count(*) AS d_ended_by_missing
    FROM session
    WHERE treatment = 'dried'
    GROUP BY site_id, month
),

wide AS (
    SELECT * FROM of_aids
    UNION ALL BY NAME SELECT * FROM of_loads
),

{quality_long}
