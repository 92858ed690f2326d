-- Grain: one row per aid: the days since it was dried and what it gained since.
-- Denominator: first cycles of aids dried before, alone in the chamber, not immersed or splashed,
-- inside the rates, read by a chamber in tolerance or correctable and corrected. gain_ul: at most
-- that where it is below detection. over: 1 above the action level, 0 at or below it, null where
-- nobody knows.
SELECT
    wearer_key,
    device_style,
    climate_group,
    season,
    days_since_dry_band,
    days_since_last_dry AS days,
    coalesce(is_below_detection, false) AS below,
    round(
        CASE
            WHEN coalesce(is_below_detection, false) THEN moisture_limit_per_aid_ul
            ELSE moisture_per_aid_ul
        END,
        1
    ) AS gain_ul,
    CASE
        WHEN coalesce(is_below_detection, false)
            THEN CASE WHEN moisture_limit_per_aid_ul <= getvariable('moisture_action_level_ul') THEN 0 END
        ELSE (moisture_per_aid_ul > getvariable('moisture_action_level_ul'))::INTEGER
    END AS over
FROM session_aid
WHERE
    treatment = 'dried' AND is_first_cycle AND is_alone AND is_complete
    AND NOT is_outside_rates AND days_since_last_dry >= 1
    AND coalesce(exposure, 'unknown') NOT IN ('immersion', 'splash')
    AND moisture_basis = 'corrected' AND standing IN ('in_tolerance', 'correctable')
