-- Grain: one row per pattern of wearers (number, a hash) and cell of it: n aids a wearer by
-- condition, exposure, days since the return by thirties, and event.
-- Denominator: aids of followed_aid, to the site's last day.
-- State: sums by number, condition_before, exposure, days, event, n.
WITH by_wearer AS (
    SELECT
        wearer_key,
        list_sort(list({
            'condition_before': condition_before, 'exposure': exposure,
            'days': days_to_end // 30, 'event': event
        })) AS pattern
    FROM followed_aid
    GROUP BY wearer_key
),

by_pattern AS (
    SELECT pattern, count(*) AS wearers
    FROM by_wearer
    GROUP BY pattern
),

wearer_cell AS (
    SELECT hash(pattern) AS number, wearers, unnest(pattern) AS cell FROM by_pattern
)

SELECT
    number,
    cell.condition_before AS condition_before,
    cell.exposure AS exposure,
    cell.days AS days,
    cell.event AS event,
    count(*) AS n,
    any_value(wearers) AS wearers
FROM wearer_cell
GROUP BY ALL
ORDER BY ALL
