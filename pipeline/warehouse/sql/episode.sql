-- Grain: one row per episode of an aid with an id.
-- Denominator: dried rows that count, grouped by episode; columns are those of its first session
-- unless they say otherwise.
SELECT
    a.episode_id,
    a.site_id,
    a.device_key,
    a.device_id,
    a.wearer_key,
    a.started_at_utc,
    a.local_date AS started_on,
    e.ended_on,
    a.month,
    a.condition_before_drying AS condition_before,
    e.condition_after,
    e.cycles,
    e.is_open,
    e.ended_by_reason,
    e.disposition,
    a.device_style,
    a.is_outside_rates,
    a.power_source,
    a.device_age_band,
    a.visit_reason,
    a.exposure,
    a.water_kind,
    a.delay_band,
    a.season,
    a.climate,
    a.climate_group
FROM written_aid AS a
JOIN episode_end AS e ON e.episode_at = a.episode_at
WHERE a.cycle_number = 1
