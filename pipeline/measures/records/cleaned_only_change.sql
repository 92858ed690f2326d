-- Grain: one row per coupler measure.
-- Denominator: aids working before and after that were cleaned and not dried, with both values.
-- State: sums of wearers by measure.
WITH change AS (
    SELECT
        unnest(['hfa_gain', 'hfa_ospl90', 'ein', 'thd']) AS measure,
        unnest([
            hfa_gain_after_db - hfa_gain_before_db,
            hfa_ospl90_after_db_spl - hfa_ospl90_before_db_spl,
            ein_after_db_spl - ein_before_db_spl,
            ln(if(thd_after_pct < 0.1, 0.1, thd_after_pct)) - ln(if(thd_before_pct < 0.1, 0.1, thd_before_pct))
        ]) AS difference
    FROM session_aid
    WHERE
        treatment = 'cleaned_only' AND NOT is_outside_rates
        AND before_measured_when = 'after_cleaning'
        AND condition_before_drying = 'normal' AND condition_after = 'normal'
)

SELECT
    measure,
    count(*) AS changes,
    sum(difference::DECIMAL(18, 9)) AS sum_d,
    sum((difference ** 2)::DECIMAL(18, 9)) AS sum_dd
FROM change
WHERE difference IS NOT NULL
GROUP BY measure
ORDER BY measure
