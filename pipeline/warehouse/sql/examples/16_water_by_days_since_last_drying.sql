-- How much water comes out, by days since the aid was last dried? Readings above detection only:
-- the measure moisture_centile keeps those below it.
SELECT days_since_dry_band, count(*) AS loads,
    round(quantile_cont(moisture_per_aid_ul, 0.25), 2) AS p25_ul,
    round(median(moisture_per_aid_ul), 2) AS median_ul,
    round(quantile_cont(moisture_per_aid_ul, 0.75), 2) AS p75_ul
FROM session_aid
WHERE is_alone AND NOT is_below_detection AND condition_before_drying = 'normal'
    AND moisture_per_aid_ul IS NOT NULL
GROUP BY days_since_dry_band
ORDER BY min(days_since_last_dry) NULLS FIRST
