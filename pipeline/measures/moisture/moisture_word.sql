-- Grain: one row. The words that occur among sessions, so that a group is told by small numbers:
-- a place in its list, in alphabetical order, from 1.
-- State: whole, lists of words.
SELECT
    list_sort(list(DISTINCT season) FILTER (season IS NOT NULL)) AS season,
    list_sort(list(DISTINCT climate_group) FILTER (climate_group IS NOT NULL)) AS climate_group,
    list_sort(list(DISTINCT device_style) FILTER (device_style IS NOT NULL)) AS device_style,
    list_sort(list(DISTINCT exposure) FILTER (exposure IS NOT NULL)) AS exposure,
    list_sort(list(DISTINCT visit_reason) FILTER (visit_reason IS NOT NULL)) AS visit_reason,
    list_sort(list(DISTINCT cycle_programme) FILTER (cycle_programme IS NOT NULL)) AS cycle_programme,
    list_sort(list(DISTINCT days_since_dry_band) FILTER (days_since_dry_band IS NOT NULL)) AS days_since_dry_band,
    list_sort(list(DISTINCT home_dryer) FILTER (home_dryer IS NOT NULL)) AS home_dryer,
    list_sort(list(DISTINCT site_id) FILTER (site_id IS NOT NULL)) AS site_id
FROM session
