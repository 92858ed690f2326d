-- Which quarters of which sites stand outside the headline figures, and why?
SELECT measure, site_id, quarter, reason, aids
FROM analysis_set
WHERE NOT is_in
ORDER BY measure, site_id, quarter
LIMIT 50
