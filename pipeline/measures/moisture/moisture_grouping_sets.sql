GROUPING SETS (
    (), (season), (climate_group), (device_style), (season, climate_group),
    (device_style, climate_group), (season, climate_group, device_style), (exposure),
    (visit_reason), (cycle_programme), (days_since_dry_band), (home_dryer), (site_id)
)
