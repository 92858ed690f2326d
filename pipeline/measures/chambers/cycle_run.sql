-- Grain: one row per dried session, in whole minutes, with how its cycle ended.
-- Denominator: dried sessions.
SELECT
    s.cycle_programme,
    s.wearer_key,
    s.dryer_id,
    s.site_id,
    CASE
        WHEN s.exposure = 'none_known' THEN 'not_exposed'
        WHEN s.exposure IN ('immersion', 'splash', 'perspiration') THEN 'exposed'
        ELSE 'not_known'
    END AS exposed,
    CASE
        WHEN s.is_alone THEN 'one_aid'
        WHEN s.aids_in_chamber = 2 AND coalesce(s.other_items_in_chamber, 'none') = 'none'
            THEN 'two_aids'
        ELSE 'with_other_items'
    END AS load_kind,
    round(s.cycle_minutes)::BIGINT AS minutes,
    CASE
        WHEN s.cycle_minutes IS NOT NULL THEN nullif(s.ended_by, 'unknown')
    END AS ended_by
FROM session AS s
WHERE s.treatment = 'dried'
