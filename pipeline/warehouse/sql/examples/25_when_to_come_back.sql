-- How fast does water come back between dryings, and in how many months is a recheck suggested?
-- Without an action level of the group's own, only the gain is known.
SELECT grouping, group_1, group_2, n, wearers, round(median_gain_ul, 2) AS median_gain_ul,
    action_level_ul, days_to_tenth_over, suggested_months
FROM recheck_interval
WHERE n >= 30
ORDER BY grouping, group_1, group_2
LIMIT 50
