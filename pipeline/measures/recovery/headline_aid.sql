-- Grain: one row per aid per session or comparison visit, as session_aid.
-- rows_counted says of its graded outcome, measured_rows_counted of its measured change:
-- 'before_period', earlier than the months reported; 'left_out', its quarter is outside the
-- analysis set; 'headline', the order of work is that of the headline figures; 'other_order', it
-- is the other. The headline is of aids whose condition between cleaning and drying was recorded
-- (whose measures before were taken between them); where that is under a tenth of the group's
-- aids in the set, of the others: "cleaned and dried". is_followed: headline, or it would be but
-- for the period; of graded outcomes.
WITH placed AS (
    SELECT
        s.*,
        a.is_in_period,
        a.is_in OR a.reason = 'before_period' AS is_sound,
        s.is_order_recorded AND (
            s.hfa_gain_before_db IS NULL
            OR coalesce(s.before_measured_when, 'unknown') = 'after_cleaning'
        ) AS is_measured_order_recorded
    FROM session_aid AS s
    INNER JOIN analysis_set AS a
        ON a.measure = if(s.condition_before_drying = 'normal', 'measured_change', 'rescue_rate')
        AND a.site_id = s.site_id
        AND a.quarter = date_trunc('quarter', s.local_date)::DATE
)

SELECT
    p.* EXCLUDE (is_in_period, is_sound),
    p.is_sound AND p.is_order_recorded = h.is_recorded AS is_followed,
    CASE
        WHEN NOT p.is_in_period THEN 'before_period'
        WHEN NOT p.is_sound THEN 'left_out'
        WHEN p.is_order_recorded = h.is_recorded THEN 'headline'
        ELSE 'other_order'
    END AS rows_counted,
    CASE
        WHEN NOT p.is_in_period THEN 'before_period'
        WHEN NOT p.is_sound THEN 'left_out'
        WHEN p.is_measured_order_recorded = h.is_measured_recorded THEN 'headline'
        ELSE 'other_order'
    END AS measured_rows_counted
FROM placed AS p
CROSS JOIN headline_order AS h
