-- Which columns does a site leave empty? Share of rows without a value.
SELECT site_id, round(avg((patient_id IS NULL)::INTEGER), 2) AS wearer,
    round(avg((condition_after_cleaning IS NULL)::INTEGER), 2) AS after_cleaning,
    round(avg((condition_after IS NULL)::INTEGER), 2) AS after_drying,
    round(avg((exposure IS NULL)::INTEGER), 2) AS exposure,
    round(avg((hfa_gain_after_db IS NULL)::INTEGER), 2) AS gain_after
FROM session_aid
GROUP BY site_id
ORDER BY site_id
