"""Every column's own checks fire: the words allowed, the range, and what is required."""

import math
from typing import Any

import polars as pl
import pytest

from schemas.exports.catalogue import EXPORTS, REFERENCE, ColumnSpec, columns_of, key_of, moment_of
from tests.schemas.frames import TABLES, failed_rows, frame, sound_value

# The export contract's ranges, stated apart from the declarations: lowest and highest good value.
RANGES = {
    ("sessions", "moisture_ul"): (0.0, None),
    ("sessions", "cycle_minutes"): (0.1, 1440.0),
    ("sessions", "device_age_months"): (0.0, None),
    ("sessions", "hours_since_exposure"): (0.0, None),
    ("sessions", "chamber_pressure_min_kpa_abs"): (0.1, 110.0),
    ("sessions", "chamber_temp_max_c"): (0.0, 80.0),
    ("sessions", "hfa_ospl90_before_db_spl"): (30.0, 150.0),
    ("sessions", "hfa_ospl90_after_db_spl"): (30.0, 150.0),
    ("sessions", "hfa_gain_before_db"): (-20.0, 90.0),
    ("sessions", "hfa_gain_after_db"): (-20.0, 90.0),
    ("sessions", "ein_before_db_spl"): (0.0, 80.0),
    ("sessions", "ein_after_db_spl"): (0.0, 80.0),
    ("sessions", "thd_before_pct"): (0.0, 100.0),
    ("sessions", "thd_after_pct"): (0.0, 100.0),
    ("dose_checks", "dose_ul"): (0.0, None),
    ("dose_checks", "reading_ul"): (0.0, None),
    ("sites", "latitude"): (-90.0, 90.0),
    ("sites", "longitude"): (-180.0, 180.0),
    ("sites", "open_days_per_week"): (0.1, 7.0),
    ("climate_normals", "month"): (1, 12),
    ("climate_normals", "precipitation_mm"): (0.0, None),
    ("visit_counts", "aids_seen"): (0, None),
}
REQUIRED = {
    "sessions": {"site_id", "started_at", "device_style", "condition_before"},
    "chamber_runs": {"site_id", "started_at"},
    "dose_checks": {"site_id", "dryer_id", "checked_at", "dose_ul", "reading_ul"},
    "repeat_measurements": {"site_id", "measured_at"},
    "service_events": {"site_id", "device_id", "occurred_on", "event"},
    "visit_counts": {"site_id", "month", "visit_reason", "aids_seen"},
    "sites": {"site_id", "site_name", "latitude", "time_zone"},
    "dryers": {"site_id", "dryer_id"},
    "dryer_events": {"dryer_id", "occurred_on", "event"},
    "device_models": {"model_code"},
    "climate_normals": {"site_id", "month", "mean_temp_c"},
    "devices": {"site_id", "device_id"},
}
HASHED = {
    "session_id": "session",
    "device_id": "device",
    "new_device_id": "device",
    "patient_id": "wearer",
    "assessor_id": "assessor",
}


def tries(spec: ColumnSpec) -> list[tuple[Any, bool]]:
    """Return values of one column, and whether the column's own checks should fail each."""
    out: list[tuple[Any, bool]] = [(sound_value(spec), False), (None, spec.required)]
    if spec.vocabulary is not None and not spec.several:
        out += [(word, False) for word in spec.vocabulary]
        out += [("no such word", True), (spec.vocabulary[0].upper(), True)]
    whole = str(spec.dtype) == "Int64"
    if spec.ge is not None:
        below = int(spec.ge) - 1 if whole else math.nextafter(spec.ge, -math.inf)
        out += [(spec.ge, False), (below, True)]
    if spec.gt is not None:
        out += [(spec.gt, True)]
    if spec.le is not None:
        above = int(spec.le) + 1 if whole else math.nextafter(spec.le, math.inf)
        out += [(spec.le, False), (above, True)]
    return out


def misjudged(table: str, tried: list[tuple[str, Any, bool]]) -> list[tuple[str, Any, bool]]:
    """Return what a table judges otherwise than told: (column, value, should fail)."""
    model = TABLES[table]
    rows = pl.concat(frame(model, **{name: value}) for name, value, _ in tried)
    fallen = failed_rows(model, rows)
    return [one for at, one in enumerate(tried) if ((at, one[0]) in fallen) is not one[2]]


@pytest.mark.parametrize("table", sorted(TABLES))
def test_columns_take_what_is_sound_and_nothing_else(table: str) -> None:
    specs = columns_of(TABLES[table])
    tried = [(s.name, value, is_bad) for s in specs for value, is_bad in tries(s)]
    assert misjudged(table, tried) == []


@pytest.mark.parametrize("table", sorted({table for table, _ in RANGES}))
def test_the_contracts_ranges(table: str) -> None:
    tried: list[tuple[str, Any, bool]] = []
    for (_, name), (low, high) in ((k, v) for k, v in RANGES.items() if k[0] == table):
        step = 1 if isinstance(low, int) else 0.1
        tried += [(name, low, False), (name, low - step, True)]
        tried += [(name, high, False), (name, high + step, True)] if high is not None else []
    assert misjudged(table, tried) == []


def test_what_each_export_requires_and_hides() -> None:
    exports = EXPORTS | REFERENCE
    required = {
        name: {spec.name for spec in columns_of(model) if spec.required}
        for name, model in exports.items()
    }
    assert required == REQUIRED
    for model in TABLES.values():
        for spec in columns_of(model):
            assert spec.hashed == HASHED.get(spec.name), (model.Config.name, spec.name)


def test_keys_and_moments_name_columns_of_their_type() -> None:
    for name, model in TABLES.items():
        kinds = {spec.name: str(spec.dtype) for spec in columns_of(model)}
        assert set(key_of(model)) <= set(kinds), name
        moment = moment_of(model)
        assert moment is None or kinds[moment].startswith("Date"), name


def test_exports_with_a_clock_time_name_it_as_their_moment() -> None:
    for name, model in (EXPORTS | REFERENCE).items():
        clock = [s.name for s in columns_of(model) if str(s.dtype).startswith("Datetime")]
        assert clock == [m for m in [moment_of(model)] if m], name


def test_measured_columns_of_an_export_say_how_finely_they_are_stored() -> None:
    for model in (EXPORTS | REFERENCE).values():
        for spec in columns_of(model):
            if str(spec.dtype) == "Float64":
                assert spec.resolution is not None and spec.resolution > 0, spec.name
