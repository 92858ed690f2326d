-- Are the chambers used? Runs per open day and idle weeks, the last full quarter by site.
SELECT site_id, sum(runs) AS runs, round(sum(runs) / nullif(sum(open_days), 0), 2) AS per_open_day,
    sum(idle_weeks) AS idle_weeks
FROM utilisation
WHERE month >= (SELECT max(month) - INTERVAL 2 MONTH FROM utilisation)
GROUP BY site_id
ORDER BY site_id
