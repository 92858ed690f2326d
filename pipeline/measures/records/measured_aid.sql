-- Grain: one row per aid per session or comparison visit, as session_aid.
-- is_copied: two or more of gain, output and distortion were taken before and after, and all of
-- them are equal; null where fewer were taken twice.
SELECT
    *,
    CASE
        WHEN (hfa_gain_before_db + hfa_gain_after_db IS NOT NULL)::INTEGER
            + (hfa_ospl90_before_db_spl + hfa_ospl90_after_db_spl IS NOT NULL)::INTEGER
            + (thd_before_pct + thd_after_pct IS NOT NULL)::INTEGER < 2 THEN NULL
        ELSE coalesce(hfa_gain_before_db = hfa_gain_after_db, true)
            AND coalesce(hfa_ospl90_before_db_spl = hfa_ospl90_after_db_spl, true)
            AND coalesce(thd_before_pct = thd_after_pct, true)
    END AS is_copied
FROM session_aid
