-- Grain: one row per earlier reading of one aid, the newest 24.
-- Denominator: its dried loads before this one, alone in the chamber, complete, with a reading
-- from a chamber that was checked and read right enough to be looked at.
WITH earlier AS (
    SELECT
        local_date,
        coalesce(is_below_detection, false) AS is_below,
        CASE WHEN is_below THEN moisture_limit_per_aid_ul ELSE moisture_per_aid_ul END AS value_ul
    FROM session_aid
    WHERE
        site_id = $site_id AND device_key = $device_key AND local_date < $before
        AND treatment = 'dried' AND is_alone AND is_complete
        AND standing NOT IN (
            'out_of_tolerance', 'scattering', 'drifting', 'misreading', 'never_checked'
        )
)

SELECT local_date, value_ul, is_below
FROM earlier
WHERE value_ul IS NOT NULL
ORDER BY local_date DESC, value_ul DESC
LIMIT 24
