device_style, climate_group, season, days_since_dry_band
