-- Which rules cost which site the most rows, and what clears them?
SELECT split_part(file, '/', 1) AS site, rule, sentence, any_value(advice) AS advice,
    count(DISTINCT (file_id, line, part_of_line)) AS rows
FROM quarantined_row
WHERE NOT is_duplicate(rule)
GROUP BY ALL
ORDER BY rows DESC, site, rule, sentence
LIMIT 20
