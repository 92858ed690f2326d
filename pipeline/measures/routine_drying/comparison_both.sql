-- Grain: one row per site and quarter with aids of both arms.
-- Denominator: that of comparison_stratum.
-- State: whole, made from comparison_stratum.
SELECT site_id, quarter FROM comparison_stratum WHERE dried > 0 AND cleaned > 0
