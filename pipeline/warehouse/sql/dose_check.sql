-- Grain: one row per dose check.
-- Denominator: dose checks that count; a blank (dose 0) has no verdict on tolerance.
SELECT
    p.site_id,
    p.dryer_id,
    p.checked_at AS checked_at_utc,
    p.local_date,
    p.time_precision,
    p.replicate,
    p.dose_ul,
    p.reading_ul,
    p.dose_method,
    p.dose_uncertainty_pct,
    p.ambient_temp_c,
    p.ambient_rh_pct,
    p.barometer_kpa,
    p.reading_ul - p.dose_ul AS error_ul,
    greatest(p.dose_ul * d.dose_tolerance_pct / 100, d.dose_tolerance_floor_ul) AS tolerance_ul,
    CASE
        WHEN p.dose_ul > 0
            -- A billionth of a microlitre, so that an error equal to the tolerance is tolerated.
            THEN abs(p.reading_ul - p.dose_ul)
                <= greatest(p.dose_ul * d.dose_tolerance_pct / 100, d.dose_tolerance_floor_ul)
                + 1e-9
    END AS is_within_tolerance,
    e.occurred_on AS valid_from,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_dose_checks AS p
JOIN dryer AS d ON d.site_id = p.site_id AND d.dryer_id = p.dryer_id
ASOF LEFT JOIN dryer_event AS e
    ON e.site_id = p.site_id AND e.dryer_id = p.dryer_id AND e.occurred_on <= p.local_date
