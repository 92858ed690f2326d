-- Grain: one row per load.
-- Denominator: dried loads of one or two aids and nothing else, inside the centiles, with a
-- reading. value_ul, limit_ul and is_below are per aid and corrected; fate tells why a load is not
-- used where chambers must read right. A reading that the line puts at zero is below detection, never
-- zero. Of a correctable chamber's reading outside the doses checked
-- no more is known than that: above them it counts as read, and at least as the highest dose; under
-- them as below detection at the lowest. line_key tells a chamber's lines since one service;
-- standard errors of the line a + b·dose move the reading by intercept_move_ul and, times the
-- reading, by slope_move.
WITH load AS (
    SELECT
        *,
        CASE WHEN is_alone THEN 1 WHEN aids_in_chamber = 2 THEN 2 END::UTINYINT AS aids,
        coalesce(is_below_detection, false) AS is_told_below
    FROM session
    WHERE
        treatment = 'dried' AND NOT is_outside_rates
        AND (moisture_ul IS NOT NULL OR is_below_detection OR is_moisture_below_detection)
        AND (is_alone OR (aids_in_chamber = 2 AND coalesce(other_items_in_chamber, 'none') = 'none'))
),

lined AS (
    SELECT
        l.*,
        hash(l.site_id, l.dryer_id, c.served_on) AS line_key,
        c.lowest_dose_ul / l.aids AS lowest_dose_ul,
        c.highest_dose_ul / l.aids AS highest_dose_ul,
        c.intercept_slope_correlation,
        CASE
            WHEN l.standing <> 'correctable' OR l.moisture_basis <> 'as_read' OR l.is_told_below
                THEN 0
            ELSE sign(l.moisture_ul - c.intercept_ul - c.slope * c.highest_dose_ul)
        END AS outside_doses,
        coalesce(
            l.moisture_per_aid_ul <= 0 AND l.moisture_limit_per_aid_ul > 0 AND NOT l.is_told_below, false
        ) AS is_put_at_zero,
        CASE WHEN l.moisture_basis = 'corrected' THEN c.intercept_se_ul / c.slope / l.aids END
            AS intercept_move_ul,
        CASE WHEN l.moisture_basis = 'corrected' THEN c.slope_se / c.slope END AS slope_move
    FROM load AS l
    ASOF LEFT JOIN calibration_line AS c
        ON c.site_id = l.site_id AND c.dryer_id = l.dryer_id AND c.known_from <= l.local_date
)

SELECT
    *,
    is_told_below OR outside_doses < 0 OR is_put_at_zero AS is_below,
    CASE
        WHEN outside_doses > 0 THEN greatest(moisture_per_aid_ul, highest_dose_ul)
        WHEN outside_doses < 0 THEN greatest(lowest_dose_ul, moisture_limit_per_aid_ul)
        WHEN is_told_below OR is_put_at_zero THEN moisture_limit_per_aid_ul
        ELSE moisture_per_aid_ul
    END AS value_ul,
    moisture_limit_per_aid_ul AS limit_ul,
    CASE
        WHEN NOT is_complete THEN 'incomplete'
        WHEN NOT coalesce(standing IN ('correctable', 'in_tolerance'), false) THEN 'uncalibrated'
        WHEN value_ul IS NULL THEN 'no limit'
        ELSE 'used'
    END AS fate
FROM lined
