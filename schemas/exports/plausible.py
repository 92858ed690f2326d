"""File rules: where the median of a column lies when its unit is the declared one.

A single odd value is a row's matter; a whole file whose median lies outside was exported in
another unit, and every value of it would be wrong.
"""

LEAST_VALUES = 30

PLAUSIBLE_MEDIAN = {
    "sessions": {
        "cycle_minutes": (2.0, 300.0, "minutes"),
        "moisture_ul": (0.05, 150.0, "µL"),
        "chamber_pressure_min_kpa_abs": (0.3, 105.0, "kPa absolute"),
        "chamber_temp_max_c": (15.0, 65.0, "°C"),
        "hours_since_exposure": (0.5, 2000.0, "hours"),
        "hfa_ospl90_before_db_spl": (80.0, 140.0, "dB SPL"),
        "hfa_gain_before_db": (5.0, 75.0, "dB"),
    },
    "dose_checks": {"dose_ul": (0.0, 200.0, "µL"), "reading_ul": (0.0, 200.0, "µL")},
}
