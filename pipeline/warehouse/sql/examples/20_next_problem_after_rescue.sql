-- How soon does a rescued aid have its next problem? Competing events are counted as such.
SELECT basis, condition_before, days, at_risk, round(share_failed, 3) AS share_failed,
    round(adjusted_low, 3) AS low, round(adjusted_high, 3) AS high
FROM time_to_failure
WHERE grouping = 'all' AND days IN (30, 90, 180, 360)
ORDER BY basis, condition_before, days
