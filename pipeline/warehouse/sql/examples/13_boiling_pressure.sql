-- In which share of cycles was the pressure too high for water to boil at the chamber's heat?
SELECT site_id, dryer_id, count(*) AS cycles,
    count(*) FILTER (
        WHERE chamber_pressure_min_kpa_abs > saturation_pressure_kpa(chamber_temp_max_c)
    ) AS no_boiling,
    round(wilson_low(no_boiling, cycles), 3) AS low
FROM session
WHERE chamber_pressure_min_kpa_abs IS NOT NULL AND chamber_temp_max_c IS NOT NULL
GROUP BY site_id, dryer_id
ORDER BY low DESC, site_id, dryer_id
