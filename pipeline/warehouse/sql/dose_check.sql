-- Grain: one row per dose check.
-- Denominator: dose checks that count; a blank (dose 0) has no verdict on tolerance.
SELECT
    p.*,
    p.checked_at AS checked_at_utc,
    p.reading_ul - p.dose_ul AS error_ul,
    greatest(p.dose_ul * d.dose_tolerance_pct / 100, d.dose_tolerance_floor_ul) AS tolerance_ul,
    CASE
        WHEN p.dose_ul > 0
            -- A billionth of a microlitre, so that an error equal to the tolerance is tolerated.
            THEN abs(p.reading_ul - p.dose_ul)
                <= greatest(p.dose_ul * d.dose_tolerance_pct / 100, d.dose_tolerance_floor_ul)
                + 1e-9
    END AS is_within_tolerance,
    e.occurred_on AS valid_from
FROM live_dose_checks AS p
JOIN dryer AS d ON d.site_id = p.site_id AND d.dryer_id = p.dryer_id
ASOF LEFT JOIN dryer_event AS e
    ON e.site_id = p.site_id AND e.dryer_id = p.dryer_id AND e.occurred_on <= p.local_date
