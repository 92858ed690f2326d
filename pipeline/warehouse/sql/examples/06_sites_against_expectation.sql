-- Which sites differ from what the other sites' results lead one to expect, and how sure is it?
SELECT outcome, site_id, n, observed, round(expected, 1) AS expected, round(ratio, 2) AS ratio,
    round(widened_low, 2) AS low, round(widened_high, 2) AS high, verdict, reason
FROM site_comparison
WHERE verdict <> 'as_expected'
ORDER BY outcome, verdict, site_id
