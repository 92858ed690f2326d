-- What became of the aids that came in dead, over all sites?
SELECT step, ended_here, n AS seen, round(share, 3) AS share, round(low, 3) AS low,
    round(high, 3) AS high
FROM outcome_ladder
WHERE grouping = 'all' AND condition_before = 'dead'
ORDER BY share DESC
