"""The calibration line, its drift, the limits of agreement and water, against outside numbers."""

import tomllib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from tests.measures.small_warehouse import fit_lines, insert, run, warehouse

CHECKS = tomllib.loads((Path(__file__).parents[2] / "checks" / "moisture.toml").read_text())
TODAY = date(2026, 6, 30)


def check(dose: float, reading: float, back: int = 0, *, replicate: int = 1, **more) -> dict:
    """One dose check of chamber c1, so many days back."""
    day = TODAY - timedelta(days=back)
    return {
        "site_id": "site-01", "dryer_id": "c1", "local_date": day, "replicate": replicate,
        "checked_at_utc": datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
        "dose_ul": float(dose), "reading_ul": float(reading), "error_ul": float(reading - dose),
        "tolerance_ul": max(dose / 10, 0.2),
        "is_within_tolerance": abs(reading - dose) <= max(dose / 10, 0.2) if dose else None,
        "dose_uncertainty_pct": None,
    } | more  # fmt: skip


def lines(checks: list[dict], events: list[dict] | None = None) -> list[dict]:
    """Rows of calibration_line by day."""
    con = warehouse()
    insert(con, "dose_check", checks)
    if events:
        insert(con, "dryer_event", events)
    fit_lines(con)
    return pl.DataFrame(
        con.sql("FROM calibration_line ORDER BY known_from").to_arrow_table()
    ).to_dicts()


def test_line_of_the_norris_data():
    norris = CHECKS["norris"]
    pairs = list(zip(norris["x"], norris["y"], strict=True))
    # One wide tolerance for all doses: the weights are equal, and no dose is bad.
    found = lines([check(x, y, at, tolerance_ul=50.0) for at, (x, y) in enumerate(pairs)])[-1]
    assert found["slope"] == pytest.approx(norris["slope"], abs=1e-6)
    assert found["intercept_ul"] == pytest.approx(norris["intercept"], abs=1e-6)
    assert found["slope_se"] == pytest.approx(norris["slope_sd"], abs=1e-6)
    assert found["intercept_se_ul"] == pytest.approx(norris["intercept_sd"], abs=1e-6)


def test_line_is_weighted_by_tolerance_repeats_and_dose():
    draw = np.random.default_rng(6)
    doses = np.repeat([0.0, 2.0, 5.0, 10.0, 20.0], 4)
    readings = 0.2 + 0.8 * doses + draw.normal(0, 0.1 + 0.04 * doses)
    checks = [
        check(d, r, at // 2, replicate=1 + at % 2, dose_uncertainty_pct=4.0)
        for at, (d, r) in enumerate(zip(doses, readings, strict=True))
    ]
    tolerance = np.maximum(doses / 10, 0.2)
    wet = doses.reshape(-1, 2)[:, 0] > 0
    squares = np.diff(readings.reshape(-1, 2)[wet]) ** 2 / 2
    repeats = np.mean(squares[:, 0] / tolerance.reshape(-1, 2)[wet, 0] ** 2)
    plain = np.polyfit(doses, readings, 1, w=1 / tolerance)[0]
    weights = 1 / (repeats * tolerance**2 + (plain * 0.04 * doses) ** 2)
    slope, intercept = np.polyfit(doses, readings, 1, w=np.sqrt(weights))
    found = lines(checks)[-1]
    assert found["repeatability_sd_ul"] == pytest.approx(np.sqrt(squares.mean()), abs=1e-6)
    assert (found["slope"], found["intercept_ul"]) == pytest.approx((slope, intercept), abs=1e-6)
    assert abs(plain - slope) > 1e-4


def test_a_few_repeats_that_agree_say_nothing_of_the_scatter():
    # Readings to a tenth, one dose read twice alike: the line is the plain one.
    draw = np.random.default_rng(3)
    doses = np.tile([5.0, 10.0], 8)
    readings = np.round(doses * 0.85 + draw.normal(0, 0.1, 16), 1)
    checks = [check(d, r, 16 - at) for at, (d, r) in enumerate(zip(doses, readings, strict=True))]
    once = lines([*checks, checks[0] | {"replicate": 2}])[-1]
    assert once["repeatability_sd_ul"] == 0
    plain = np.polyfit(np.append(doses, 5), np.append(readings, readings[0]), 1,
                       w=1 / np.append(doses, 5))  # fmt: skip
    assert (once["slope"], once["intercept_ul"]) == pytest.approx(tuple(plain), abs=1e-6)


def test_a_line_is_known_from_its_day_and_ends_with_a_service():
    checks = [check((5, 10)[at % 2], 0.8 * (5, 10)[at % 2], 60 - at) for at in range(9)]
    event = {"site_id": "site-01", "dryer_id": "c1", "event": "serviced",
             "occurred_on": TODAY - timedelta(days=10)}  # fmt: skip
    found = lines(checks, [event])
    assert [row["checks_in_180_days"] for row in found] == [1, 2, 3, 4, 5, 6, 7, 8, 9, 0]
    # Applied from the eighth check on; the standing knows the bias from the sixth day on.
    assert [row["is_applied"] for row in found] == [False] * 7 + [True] * 2 + [False]
    assert [row["standing"] for row in found] == (
        ["retest"] * 5 + ["misreading"] * 2 + ["correctable"] * 2 + ["too_few_checks"]
    )
    assert (found[-1]["last_checked_on"], found[-1]["slope"], found[-1]["bias"]) == (
        None, None, "not_recorded"
    )  # fmt: skip


def test_checks_of_more_than_180_days_before_belong_to_the_drift_alone():
    old = [check(10, 9, 365 - 30 * at) for at in range(6)]  # 365, the first, is too old
    new = [check(10, 10.0, 179 - 20 * at) for at in range(6)]
    found = lines([*old, *new, check(0, 0, 0)])[-1]
    assert (found["checked_days_in_180"], found["checks_in_180_days"]) == (6, 6)
    assert found["mean_error_tolerances"] == 0
    # By hand: five days at -1 (335 to 215 days back) and six at 0 (179 to 79).
    ages = np.array([335, 305, 275, 245, 215, 179, 159, 139, 119, 99, 79])
    errors = np.r_[np.full(5, -1.0), np.zeros(6)]
    slope = np.polyfit(-ages / 182.625, errors, 1)[0]
    assert found["half_year_drift_tolerances"] == pytest.approx(slope, abs=1e-5)


def test_the_same_local_names_at_two_sites_are_two_chambers():
    here = [check(10, 10, 70 - 10 * at) for at in range(7)]
    there = [check(10, 7.5, 70 - 10 * at, site_id="site-02") for at in range(7)]
    event = {"site_id": "site-02", "dryer_id": "c1", "event": "moved", "occurred_on": TODAY}
    found = lines([*here, *there], [event])
    told = {(row["site_id"], row["known_from"]): row["standing"] for row in found}
    last = TODAY - timedelta(days=10)
    assert told["site-01", last] == "in_tolerance"
    assert told["site-02", last] == "misreading"
    assert told["site-02", TODAY] == "too_few_checks"
    assert ("site-01", TODAY) not in told


def test_a_bad_dose_keeps_line_and_standing_until_its_retest():
    doses = [(5, 10)[at % 2] for at in range(10)]
    good = [check(d, d * (1 + 0.02 * (-1) ** (at // 2)), 100 - 10 * at)
            for at, d in enumerate(doses)]  # fmt: skip
    bad = check(5, 9, 0)
    twice = [check(5, reading, -1, replicate=at) for at, reading in enumerate((5.1, 5.0), 1)]
    before, opened = lines([*good, bad])[-2:]
    assert (before["standing"], before["is_applied"]) == ("in_tolerance", True)
    assert (opened["standing"], opened["reading_standing"]) == ("retest", "in_tolerance")
    for name in ("intercept_ul", "slope", "is_applied", "highest_dose_ul", "slope_se"):
        assert opened[name] == before[name]
    closed = lines([*good, bad, *twice])[-1]
    assert (closed["standing"], closed["is_applied"]) == ("in_tolerance", True)
    # Its badness was chance: it has left the line.
    assert closed["slope"] == pytest.approx(1, abs=0.02)
    off = [row | {"reading_ul": 5.7} for row in (bad, *twice)]
    failed = lines([*good, *off])[-1]
    assert failed["standing"] == failed["reading_standing"] == "out_of_tolerance"


def test_two_bad_doses_settled_as_chance_stay_in_the_line():
    good = [check((5, 10)[at % 2], (5, 10)[at % 2], 100 - 10 * at) for at in range(10)]

    def settled(back):
        return [check(5, 9, back), *(check(5, 5, back, replicate=at) for at in (2, 3))]

    (one,) = lines([*good, *settled(0)])[-1:]
    (two,) = lines([*good, *settled(1), *settled(0)])[-1:]
    assert one["corrected_error_rms_tolerances"] == pytest.approx(0, abs=1e-6)
    assert two["corrected_error_rms_tolerances"] > 1
    assert (one["is_applied"], two["is_applied"]) == (True, False)


def test_a_day_is_within_tolerance_if_every_check_with_water_is():
    con = warehouse()
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": name} for name in ("c1", "c2")])
    # The small dose reads 40 % high, the larger one after it well; a blank has no verdict.
    pairs = ((1.0, 1.4), (10.0, 10.1), (0.0, 0.1))
    days = [check(dose, reading, back, replicate=at)
            for back in (2, 1) for at, (dose, reading) in enumerate(pairs)]  # fmt: skip
    right = [row | {"dryer_id": "c2", "reading_ul": row["dose_ul"], "error_ul": 0.0,
                    "is_within_tolerance": True if row["dose_ul"] else None}
             for row in days]  # fmt: skip
    insert(con, "dose_check", [*days, *right])
    frame = run(con, as_of=TODAY, wanted="dryer_calibration")["dryer_calibration"]
    told = frame.select("dryer_id", "checked_days", "within_tolerance_share", "standing").rows()
    assert told == [("c1", 2, 0.0, "retest"), ("c2", 2, 1.0, "too_few_checks")]


def test_blanks_keep_no_chamber_in_time():
    # Six good checks, the last 91 days back or 90, then a blank a month.
    con = warehouse()
    names = {"late": 91, "in_time": 90}
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": name} for name in names])
    insert(con, "dose_check", [
        row | {"dryer_id": name} for name, back in names.items()
        for row in (*(check(5, 5, back + 5 * at) for at in range(6)), check(0, 0.1, 60),
                    check(0, 0.1, 30), check(0, 0.1, 1))
    ])  # fmt: skip
    frame = run(con, as_of=TODAY, wanted="dryer_calibration")["dryer_calibration"]
    assert frame.select("dryer_id", "standing", "days_since_check", "blanks").rows() == [
        ("in_time", "in_tolerance", 90, 3),
        ("late", "overdue", 91, 3),
    ]


def test_a_chamber_with_blanks_alone_since_its_service_is_not_checked():
    con = warehouse()
    names = ("served", "new")
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": name} for name in names])
    insert(con, "dose_check", [
        *(check(dose, dose, 30 - at, dryer_id="served")
          for at, dose in enumerate((5, 10, 5, 10, 5, 10))),
        check(0, 0.1, 3, dryer_id="served"), check(0, 0.1, 3, dryer_id="new"),
    ])  # fmt: skip
    insert(con, "dryer_event", [{"site_id": "site-01", "dryer_id": "served", "event": "serviced",
                                 "occurred_on": TODAY - timedelta(days=10)}])  # fmt: skip
    frame = run(con, as_of=TODAY, wanted="dryer_calibration")["dryer_calibration"]
    told = frame.select("dryer_id", "standing", "last_checked_on", "checks", "blanks").rows()
    assert told == [("new", "never_checked", None, 0, 1), ("served", "never_checked", None, 0, 1)]


def test_a_removed_chamber_is_reckoned_at_its_removal_and_no_longer_counted():
    gone = TODAY - timedelta(days=200)
    con = warehouse()
    insert(con, "dryer", [
        {"site_id": "site-01", "dryer_id": name, "removed_on": day}
        for name, day in (("gone", gone), ("leaving", TODAY), ("here", None))
    ])  # fmt: skip
    insert(con, "session", [{"site_id": "site-01", "session_key": "1", "local_date": TODAY,
                             "month": TODAY.replace(day=1), "treatment": "dried",
                             "dryer_id": "leaving"}])  # fmt: skip
    insert(con, "session_aid", [{
        "site_id": "site-01", "session_key": "1", "device_key": "a", "wearer_key": "w",
        "local_date": TODAY, "month": TODAY.replace(day=1), "treatment": "dried",
        "dryer_id": "leaving", "condition_before": "dead", "condition_before_drying": "dead",
        "condition_after": "normal", "is_first_cycle": True, "is_outside_rates": False,
        "is_order_recorded": True,
    }])  # fmt: skip
    insert(con, "dose_check", [
        check(5, 5, 210, dryer_id="gone"), check(5, 9, 190, dryer_id="gone"),
        check(5, 5, 100, dryer_id="leaving"),
        *(check(5, 5, 1 + at, dryer_id="here") for at in range(6)),
    ])  # fmt: skip
    insert(con, "dryer_event", [{"site_id": "site-01", "dryer_id": "gone", "event": "moved",
                                 "occurred_on": gone + timedelta(days=2)}])  # fmt: skip
    tables = run(con, as_of=TODAY, wanted=["dryer_calibration", "site_comparison", "data_quality"])
    told = tables["dryer_calibration"].select(
        "dryer_id", "standing", "removed_on", "counted_on", "days_since_check", "checks",
        "service_events",
    ).rows()  # fmt: skip
    assert sorted(told) == [
        ("gone", "too_few_checks", gone, gone, 10, 1, 0),
        ("here", "in_tolerance", None, TODAY, 1, 6, 0),
        ("leaving", "overdue", None, TODAY, 100, 1, 0),
    ]
    beside = tables["site_comparison"].select(
        "chambers", "chambers_in_tolerance", "calibration_standing"
    )
    assert beside.unique().rows() == [(2, 1, "overdue")]
    unchecked = tables["data_quality"].filter(pl.col("check_name") == "chambers_without_check")
    assert unchecked.select("numerator", "denominator").rows() == [(1, 2)]


def test_standing_when_last_loaded_stands_beside_todays_where_data_are_old():
    con = warehouse()
    names = ("fine", "late", "gone")
    insert(con, "dryer", [
        {"site_id": "site-01", "dryer_id": name,
         "removed_on": TODAY - timedelta(days=60) if name == "gone" else None}
        for name in names
    ])  # fmt: skip
    # The last day loaded is a session's, 150 days back; one chamber was overdue even then.
    insert(con, "session", [{"site_id": "site-01", "session_key": "1",
                             "local_date": TODAY - timedelta(days=150)}])  # fmt: skip
    backs = zip(names, (160, 250, 160), strict=True)
    insert(con, "dose_check", [check(5, 5, back + at, dryer_id=name)
                               for name, back in backs for at in range(6)])  # fmt: skip
    insert(con, "dryer_event", [{"site_id": "site-01", "dryer_id": "fine", "event": "serviced",
                                 "occurred_on": TODAY - timedelta(days=20)}])  # fmt: skip
    frame = run(con, as_of=TODAY, wanted="dryer_calibration")["dryer_calibration"]
    told = frame.select("dryer_id", "standing", "standing_when_last_loaded", "last_loaded_on")
    loaded = TODAY - timedelta(days=150)
    assert sorted(told.rows()) == [
        ("fine", "never_checked", "in_tolerance", loaded),
        ("gone", "overdue", "in_tolerance", loaded),
        ("late", "overdue", "overdue", loaded),
    ]


def test_boiling_and_services_are_counted_by_chamber():
    con = warehouse()
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": "c1"}])
    flags = [True, True, False, None]
    insert(con, "session", [
        {"site_id": "site-01", "dryer_id": "c1", "treatment": "dried", "local_date": TODAY,
         "session_key": str(at), "is_boiling_not_possible": flag}
        for at, flag in enumerate(flags)
    ])  # fmt: skip
    insert(con, "dryer_event", [
        {"site_id": "site-01", "dryer_id": "c1", "event": event, "occurred_on": day}
        for event, day in (("moved", date(2025, 1, 1)), ("serviced", date(2026, 1, 1)),
                           ("sensor_changed", date(2026, 1, 1)))
    ])  # fmt: skip
    row = run(con, wanted="dryer_calibration")["dryer_calibration"].row(0, named=True)
    assert (row["cycles_with_pressure"], row["cycles_boiling_not_possible"]) == (3, 2)
    assert (row["service_events"], row["last_service_event"]) == (3, "sensor_changed;serviced")
    assert row["last_served_on"] == date(2026, 1, 1)
    assert row["standing"] == "never_checked"


def test_water_carried_over_shows_in_later_runs():
    con = warehouse()
    rows = []
    for chamber in range(6):
        for day in range(1, 13):
            for order, (hour, factor) in enumerate(((9, 1.0), (10, 1.3), (14, 1.0))):
                rows.append({
                    "site_id": f"site-{chamber}", "dryer_id": "c1", "treatment": "dried",
                    "session_key": f"{day}-{order}", "time_precision": "instant",
                    "local_date": date(2026, 5, day), "is_alone": True, "is_complete": True,
                    "started_at_utc": datetime(2026, 5, day, hour, tzinfo=UTC),
                    "cycle_minutes": 40.0, "is_outside_rates": False, "exposure": "none_known",
                    "is_below_detection": False,
                    "moisture_ul": (1 + chamber) * factor * (1 + day / 50),
                })  # fmt: skip
    insert(con, "session", rows)
    frame = run(con, wanted="chamber_carry_over")["chamber_carry_over"]
    found = {row["order_band"]: row for row in frame.to_dicts() if row["order_band"] != "first"}
    assert {name: round(row["ratio_to_first"], 6) for name, row in found.items()} == {
        "second": 1.3, "third": 1.0, "15_59_minutes": 1.3, "180_minutes_or_more": 1.0,
    }  # fmt: skip
    assert (found["second"]["n"], found["second"]["chambers"]) == (72, 6)
    assert found["second"]["ratio_low"] == pytest.approx(1.3)


def test_the_pump_is_judged_by_its_own_chambers_cycles_of_ninety_days():
    """Two sites call a chamber c1; 30 of 30 cycles short at the first, none at the second."""
    con = warehouse()
    sites = ("site-01", "site-02")
    insert(con, "dryer", [{"site_id": site, "dryer_id": "c1"} for site in sites])
    insert(con, "session", [
        {"site_id": site, "dryer_id": "c1", "treatment": "dried", "session_key": f"{back} {at}",
         "local_date": TODAY - timedelta(days=back), "is_boiling_not_possible": is_short}
        for site, back, n, is_short in (
            ("site-01", 89, 30, True), ("site-01", 90, 7, True), ("site-01", 0, 1, None),
            ("site-02", 0, 25, False),
        )
        for at in range(n)
    ])  # fmt: skip
    frame = run(con, as_of=TODAY, wanted="dryer_calibration")["dryer_calibration"]
    told = frame.select("site_id", "pump", "pump_cycles", "pump_cycles_short").rows()
    assert sorted(told) == [("site-01", "outside", 30, 30), ("site-02", "within", 25, 0)]
