GROUPING SETS (
            (), (device_style), (climate_group), (season), (days_since_dry_band),
            (device_style, climate_group), (device_style, days_since_dry_band)
        )
