"""Repeatability, calibration, use and quality on small warehouses."""

from datetime import UTC, date, datetime, timedelta
from math import log, sqrt

import numpy as np
import polars as pl
import pytest

from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import query_text
from pipeline.measures.records.measurement_repeatability import z_of
from pipeline.measures.records.quality_checks import CHECKS as QUALITY
from tests.measures.small_warehouse import CHECKS, insert, run, warehouse


def session(day: date, *, site="site-01", dryer="c1", key=None, **more) -> dict:
    """One dried load."""
    return {
        "site_id": site, "session_key": key or f"{site}{dryer}{day}", "treatment": "dried",
        "dryer_id": dryer, "local_date": day, "month": day.replace(day=1), "aids_in_chamber": 1,
        "is_complete": True, "is_alone": True, "other_items_in_chamber": "none",
        "wearer_key": "w", "is_outside_rates": False,
    } | more  # fmt: skip


def test_measures_run_after_those_they_need():
    assert len(MEASURES) > 20
    seen: set[str] = set()
    for measure in MEASURES:
        assert set(measure.needs) <= seen
        assert all(query_text(query).startswith("-- Grain:") for query in measure.queries)
        seen.add(measure.name)


def test_sidak():
    assert z_of(3) == pytest.approx(CHECKS["sidak"]["three"], abs=5e-4)
    assert z_of(1) == pytest.approx(1.96, abs=1e-3)


def test_repeatability_of_known_noise():
    draw = np.random.default_rng(5)
    first, second = draw.normal(40, 0.9, (2, 400))
    con = warehouse()
    insert(con, "repeat_measurement", [
        {"site_id": "site-01", "device_id": f"d{at}", "test_box_id": "a" if at < 380 else "b",
         "replicate": 1, "first_hfa_gain_db": a, "second_hfa_gain_db": b,
         "first_thd_pct": 1.0, "second_thd_pct": 2.0 if at < 20 else None}
        for at, (a, b) in enumerate(zip(first.tolist(), second.tolist(), strict=True))
    ])  # fmt: skip
    frame = run(con)["measurement_repeatability"]
    gain = frame.filter(pl.col("measure") == "hfa_gain")
    pooled = gain.filter(pl.col("test_box_id").is_null()).row(0, named=True)
    by_hand = sqrt(float(np.sum((second - first) ** 2)) / 800)
    assert pooled["within_sd_seen"] == pytest.approx(by_hand, abs=1e-6)
    in_force = pooled["within_sd"]
    assert in_force == round(by_hand, 2) != pytest.approx(by_hand, abs=1e-6)
    assert pooled["within_sd_low"] < 0.9 < pooled["within_sd_high"]
    assert pooled["change_needed"] == pytest.approx(2.388 * sqrt(2) * in_force, abs=1e-3)
    assert pooled["basis"] == "repeats"
    few = gain.filter(pl.col("test_box_id") == "b").row(0, named=True)
    assert (few["pairs"], few["taken_from"]) == (20, "pooled repeats")
    assert few["within_sd"] == pooled["within_sd"]
    assert few["within_sd_low"] is None
    thd = frame.filter(pl.col("measure") == "thd", pl.col("test_box_id").is_null())
    assert thd.row(0, named=True)["basis"] == "assumed"
    assert thd["within_sd"].item() == 0.25
    assert thd["within_sd_seen"].item() == pytest.approx(log(2) / sqrt(2))


@pytest.mark.parametrize(
    ("difference", "in_force"),
    [(0.0, 0.0), (0.001, 0.01), (sqrt(2) * 0.0149, 0.01), (sqrt(2) * 0.0151, 0.02)],
)
def test_the_deviation_in_force_stands_to_hundredths_and_is_not_cut_to_nothing(
    difference, in_force
):
    con = warehouse()
    insert(con, "repeat_measurement", [
        {"site_id": "site-01", "device_id": f"d{at}", "test_box_id": "a", "replicate": 1,
         "first_hfa_gain_db": 40.0, "second_hfa_gain_db": 40.0 + difference}
        for at in range(60)
    ])  # fmt: skip
    frame = run(con)["measurement_repeatability"].filter(pl.col("measure") == "hfa_gain")
    pooled = frame.filter(pl.col("test_box_id").is_null()).row(0, named=True)
    assert pooled["within_sd"] == in_force
    assert pooled["within_sd_seen"] == pytest.approx(difference / sqrt(2), abs=1e-9)


def checks(dryer: str, errors: list[float], last: date, *, site="site-01") -> list[dict]:
    """Dose checks of 5 and 10 µL in turn, one a week up to a day."""
    rows = []
    for at, error in enumerate(errors):
        day = last - timedelta(days=7 * (len(errors) - 1 - at))
        dose = (5.0, 10.0)[at % 2]
        reading = dose * (1 + error)
        rows.append({
            "site_id": site, "dryer_id": dryer, "local_date": day, "replicate": 1,
            "checked_at_utc": datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
            "dose_ul": dose, "reading_ul": reading, "error_ul": reading - dose,
            "tolerance_ul": dose / 10, "is_within_tolerance": abs(error) <= 0.1,
        })  # fmt: skip
    return rows


def test_standing_of_chambers():
    today = date(2026, 6, 30)
    con = warehouse()
    names = ("steady", "good", "wild", "noisy", "late", "never", "served")
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": name} for name in names])
    insert(con, "session", [session(today)])
    insert(con, "dose_check", [
        *checks("steady", [0.2] * 8, today), *checks("good", [0.02] * 8, today),
        *checks("wild", [0.3, -0.4, 0.5], today),
        *checks("noisy", [0.6, -0.7, 0.5, -0.8, 0.6, -0.5, 0.7, -0.6], today),
        *checks("late", [0.02] * 8, today - timedelta(days=90)),
        *checks("served", [0.5] * 6, today - timedelta(days=20)),
    ])  # fmt: skip
    insert(con, "dryer_event", [{"site_id": "site-01", "dryer_id": "served", "event": "serviced",
                                 "occurred_on": today - timedelta(days=5)}])  # fmt: skip
    frame = run(con)["dryer_calibration"]
    standing = dict(frame.select("dryer_id", "standing").rows())
    assert standing == {"steady": "correctable", "good": "in_tolerance",
                        "wild": "retest", "noisy": "scattering", "late": "overdue",
                        "never": "never_checked", "served": "never_checked"}  # fmt: skip
    steady = frame.filter(pl.col("dryer_id") == "steady").row(0, named=True)
    assert steady["slope"] == pytest.approx(1.2)
    assert steady["intercept_ul"] == pytest.approx(0, abs=1e-5)
    assert steady["mean_error_pct"] == pytest.approx(20)
    assert (steady["within_tolerance_share"], steady["within_low"]) == (0, 0)
    never = frame.filter(pl.col("dryer_id") == "never").row(0, named=True)
    assert never["within_tolerance_share"] is None
    assert never["last_checked_on"] is None


def test_use_counts_runs_open_days_and_gaps():
    con = warehouse()
    insert(con, "site", [{"site_id": "site-01", "open_days_per_week": 5.0}])
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": name} for name in ("c1", "c2")])
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": "c3",
                           "installed_on": date(2026, 6, 21)}])  # fmt: skip
    # Mondays of June 2026: 1, 8, 15, 22, 29; nothing in the weeks of the 8th and the 15th.
    days = (date(2026, 6, 1), date(2026, 6, 2), date(2026, 6, 22), date(2026, 7, 5))
    insert(con, "session", [session(day) for day in days])
    insert(con, "session_aid", [
        {"site_id": "site-01", "month": date(2026, 6, 1), "treatment": "dried",
         "visit_reason": "clean_and_check", "condition_before": "dead", "file_id": "f", "line": at,
         "local_date": date(2026, 6, 1 + day), "device_id": device, "cycle_number": cycle}
        # An aid dried twice in a visit is one aid seen, and one more when it comes again.
        for at, (device, day, cycle) in enumerate(
            (("a", 0, 1), ("a", 0, 2), ("a", 1, 3), (None, 1, 1))
        )
    ])  # fmt: skip
    insert(con, "visit_count", [{"site_id": "site-01", "month": date(2026, 6, 1),
                                 "visit_reason": "clean_and_check", "aids_seen": 12,
                                 "dead_seen": 6}])  # fmt: skip
    frame = run(con)["utilisation"]
    june = frame.filter(pl.col("dryer_id") == "c1", pl.col("month") == date(2026, 6, 1))
    row = june.row(0, named=True)
    assert (row["runs"], row["weeks_without_data"], row["idle_weeks"]) == (3, 2, 0)
    assert row["weeks_covered"] == 5
    assert row["runs_per_open_day"] == pytest.approx(3 / (30 * 5 / 7))
    assert (row["checked_aids_dried_share"], row["dead_dried"], row["dead_seen"]) == (0.25, 3, 6)
    idle = frame.filter(pl.col("dryer_id") == "c2", pl.col("month") == date(2026, 6, 1))
    assert (idle["runs"].item(), idle["idle_weeks"].item()) == (0, 3)
    late = frame.filter(pl.col("dryer_id") == "c3", pl.col("month") == date(2026, 6, 1))
    assert late["open_days"].item() == pytest.approx(10 * 5 / 7)
    july = frame.filter(pl.col("month") == date(2026, 7, 1), pl.col("dryer_id") == "c1")
    assert july["checked_aids_dried_share"].item() is None


def test_quality_checks_count_what_they_say():
    con = warehouse()
    month = {"site_id": "site-01", "month": date(2026, 6, 1), "treatment": "dried",
             "local_date": date(2026, 6, 3), "is_outside_rates": False,
             "condition_before_drying": "dead", "wearer_key": "w", "file_id": "f"}  # fmt: skip
    insert(con, "session_aid", [
        month | {"line": 1, "power_source": "zinc_air", "cell_in_chamber": "left_in",
                 "condition_after": "normal", "device_id": "a"},
        month | {"line": 2, "power_source": "zinc_air", "cell_in_chamber": "removed",
                 "exposure": "immersion", "disposition": "returned_to_wearer",
                 "condition_after": "dead", "device_id": None},
        month | {"line": 3, "power_source": "lithium_ion", "cell_in_chamber": "built_in",
                 "exposure": "immersion", "disposition": "returned_to_wearer"},
    ])  # fmt: skip
    con.execute(
        "INSERT INTO row_account (file_id, site_id, table_name, rows_read, quarantined,"
        " duplicate, is_live) VALUES ('f', 'site-01', 'sessions', 200, 8, 2, true)"
    )
    con.execute("INSERT INTO refused_value VALUES ('f', 'sessions', 4, 1), ('f', 'sessions', 4, 1)")
    frame = run(con)["data_quality"]
    found = {row["check_name"]: (row["numerator"], row["denominator"], row["is_over"])
             for row in frame.to_dicts()}  # fmt: skip
    assert found["zinc_air_cell_left_in"] == (1, 2, True)
    assert found["returned_dead_after_immersion"] == (1, 2, True)
    assert found["returned_unchecked_after_immersion"] == (1, 2, True)
    assert found["sealed_lithium_without_permission"] == (1, 1, True)
    assert found["condition_after_missing"] == (1, 3, True)
    assert found["device_id_missing"] == (2, 3, True)
    assert found["rows_refused"] == (8, 200, True)
    assert found["duplicate_rows"] == (2, 200, False)
    assert found["rows_with_refused_values"] == (1, 200, False)
    assert set(found) <= set(QUALITY)


def test_every_measure_of_an_empty_warehouse_is_valid():
    for name, frame in run(warehouse()).items():
        next(m for m in MEASURES if m.name == name).schema.validate(frame)
        assert (
            not frame.select(pl.selectors.float().is_nan().any()).fill_null(False).to_numpy().any()
        )
