-- Grain: one row per dried row that counts, of an aid with an id: its place in its episode.
-- Denominator: dried rows that count and name the aid. Windows run over these few columns only.
WITH dried AS (
    SELECT
        row_at,
        site_id,
        device_id,
        started_at,
        local_date,
        exposure,
        disposition,
        condition_after,
        hours_at_most
    FROM live_row
    WHERE treatment = 'dried' AND device_id IS NOT NULL
),
after_earlier AS (
    SELECT
        *,
        first_value(row_at) OVER aid AS aid_at,
        row_number() OVER aid AS row_of_aid,
        lag(local_date) OVER aid AS earlier_date,
        lag(started_at) OVER aid AS earlier_start,
        lag(exposure) OVER aid AS earlier_exposure,
        lag(disposition) OVER aid AS earlier_disposition
    FROM dried
    WINDOW aid AS (
        PARTITION BY site_id, device_id ORDER BY started_at, row_at % 1099511627776, row_at
    )
),
sent_away AS (
    SELECT site_id, device_id, occurred_on, min(event) AS event
    FROM service_event
    WHERE event IN ('sent_for_repair', 'replaced')
    GROUP BY site_id, device_id, occurred_on
),
-- Few aids were ever sent away: only theirs are searched by day.
with_event AS (
    SELECT a.*, e.occurred_on AS event_on, e.event
    FROM (
        FROM after_earlier
        SEMI JOIN sent_away USING (site_id, device_id)
    ) AS a
    ASOF LEFT JOIN sent_away AS e
        ON e.site_id = a.site_id AND e.device_id = a.device_id AND e.occurred_on < a.local_date
    UNION ALL
    SELECT *, NULL AS event_on, NULL AS event
    FROM after_earlier
    ANTI JOIN sent_away USING (site_id, device_id)
),
parted AS (
    SELECT
        *,
        CASE
            WHEN earlier_date IS NULL THEN 'first'
            WHEN earlier_disposition IN ('returned_to_wearer', 'sent_for_repair', 'replaced')
                THEN earlier_disposition
            WHEN event_on >= earlier_date THEN event
            WHEN
                exposure IN ('immersion', 'splash')
                AND (
                    started_at - to_hours(hours_at_most::BIGINT) > earlier_start
                    OR (
                        hours_at_most IS NULL
                        AND coalesce(earlier_exposure NOT IN ('immersion', 'splash'), true)
                    )
                )
                THEN 'new_exposure'
            WHEN local_date - earlier_date > getvariable('episode_gap_days') THEN 'gap'
        END AS parted_by
    FROM with_event
),
numbered AS (
    SELECT
        *,
        count(parted_by) OVER aid AS episode_number,
        lead(row_of_aid) OVER aid IS NULL OR lead(parted_by) OVER aid IS NOT NULL AS is_last,
        lead(parted_by) OVER aid AS next_parted_by,
        last_value(CASE WHEN parted_by IS NOT NULL THEN row_at END IGNORE NULLS) OVER aid
            AS episode_at,
        -- Along an aid's rows place and time only grow: the greatest of first rows is the last.
        max(CASE WHEN parted_by IS NOT NULL THEN row_of_aid END) OVER aid AS first_row,
        max(CASE WHEN parted_by IS NOT NULL THEN started_at END) OVER aid AS first_start
    FROM parted
    WINDOW aid AS (
        PARTITION BY aid_at ORDER BY row_of_aid ROWS UNBOUNDED PRECEDING
    )
)
SELECT
    row_at,
    episode_at,
    site_id,
    device_id,
    local_date,
    earlier_date,
    disposition,
    condition_after,
    first_start,
    episode_number,
    row_of_aid - first_row + 1 AS cycle_number,
    is_last,
    next_parted_by
FROM numbered
