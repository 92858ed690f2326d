"""Recheck interval: gain alone by default, days with a level, nothing beyond the data."""

import numpy as np
import polars as pl
import pytest

from pipeline.measures.follow_up.recheck_interval import suggested
from pipeline.settings import Settings
from tests.measures.follow_up.made_rows import run_one, session
from tests.measures.small_warehouse import insert, warehouse
from tests.simulation.recheck_interval import ACTION_LEVEL_UL, WEARERS, true_days, visits

WITH_LEVEL = Settings(moisture_action_level_ul=ACTION_LEVEL_UL)


def load(number: int, wearer: str, days: int | None, reading: float | None, **more) -> dict:
    """One load of one aid, so many days after its last drying."""
    style = more.pop("device_style", "ric")
    return session(f"a{number}", 0, "normal", wearer_key=wearer) | {
        "days_since_last_dry": days, "days_since_dry_band": "90_179_days", "device_style": style,
        "climate_group": "temperate", "season": "winter", "is_alone": True, "is_complete": True,
        "moisture_per_aid_ul": reading, "moisture_limit_per_aid_ul": 0.5,
        "is_below_detection": False, "moisture_basis": "corrected", "standing": "in_tolerance",
        "exposure": "none_known",
    } | more  # fmt: skip


def table(rows: list[dict], settings: Settings | None = None) -> pl.DataFrame:
    """The measure of these loads."""
    con = warehouse()
    insert(con, "session_aid", rows)
    return run_one(con, "recheck_interval", settings or Settings())


def whole(frame: pl.DataFrame) -> dict:
    """The one row of every load."""
    return frame.filter(pl.col("grouping") == "all").row(0, named=True)


@pytest.fixture(scope="module")
def planted() -> list[dict]:
    """Water that levels off, as the simulation plants it."""
    wearer, days, reading = visits(np.random.default_rng(8))
    return [
        load(at, f"w{w}", int(d), float(r), device_style="bte" if w % 2 else "ric")
        for at, (w, d, r) in enumerate(zip(wearer, days, reading, strict=True))
    ]


def test_without_a_level_only_gain_is_told(planted):
    row = whole(table(planted))
    assert row["n"] == len(planted)
    assert row["wearers"] == WEARERS
    readings = sorted(load["moisture_per_aid_ul"] for load in planted)
    assert row["median_gain_ul"] == pytest.approx(readings[len(readings) // 2], abs=0.1)
    assert row["median_gain_low_ul"] < row["median_gain_ul"] < row["median_gain_high_ul"]
    for name in ("action_level_ul", "over", "undecided", "days_to_tenth_over", "days_to_half_over",
                 "is_tenth_at_most", "suggested_months"):  # fmt: skip
        assert row[name] is None


def test_days_to_a_tenth_are_found_and_a_half_never_comes(planted):
    frame = table(planted, WITH_LEVEL)
    row = whole(frame)
    assert row["over"] == sum(r["moisture_per_aid_ul"] > ACTION_LEVEL_UL for r in planted)
    assert row["days_to_tenth_low"] <= true_days(0.1) <= row["days_to_tenth_high"]
    assert row["is_tenth_at_most"] is False
    assert row["suggested_months"] in {"1", "2"}
    # The water levels off under a half: no line is drawn beyond it.
    assert row["days_to_half_over"] is row["days_to_half_high"] is None
    assert (
        frame.filter(pl.col("grouping") == "days_since_dry_band")["days_to_tenth_over"][0] is None
    )
    again = table(planted, WITH_LEVEL)
    assert again.equals(frame)


def test_no_answer_lies_beyond_the_longest_gap_of_thirty_wearers():
    rows = [load(at, f"w{at}", 20 + at % 10, 1.0) for at in range(100)]
    rows += [load(100 + at, f"w{at}", 400, 9.0) for at in range(29)]
    row = whole(table(rows, WITH_LEVEL))
    assert row["longest_gap_days"] == 29
    assert row["days_to_tenth_over"] is None
    more = [load(200 + at, f"w{29 + at}", 390, 9.0) for at in range(15)]
    assert whole(table(rows + more, WITH_LEVEL))["longest_gap_days"] == 390
    assert whole(table(rows + more, WITH_LEVEL))["days_to_tenth_over"] is not None
    few = whole(table(rows[:29], WITH_LEVEL))
    assert few["longest_gap_days"] is None


def test_which_loads_count():
    rows = [load(at, f"w{at}", 100, 2.0) for at in range(12)]
    left_out = {
        "days_since_last_dry": None, "exposure": "immersion", "is_alone": False,
        "is_complete": False, "standing": "out_of_tolerance", "moisture_basis": "as_read",
        "is_first_cycle": False, "is_outside_rates": True, "treatment": "cleaned_only",
    }  # fmt: skip
    rows += [
        load(50 + at, "x", 100, 2.0) | {name: value}
        for at, (name, value) in enumerate(left_out.items())
    ]
    rows += [load(70, "y", 100, 2.0, exposure=None)]
    assert whole(table(rows))["n"] == 13


@pytest.mark.parametrize("limit", [0.5, 3.0])
def test_a_median_below_detection_lies_between_nought_and_the_limit(limit):
    below = {"is_below_detection": True, "moisture_limit_per_aid_ul": limit}
    rows = [load(at, f"w{at}", 100, None, **below) for at in range(30)]
    row = whole(table(rows + [load(30 + at, f"v{at}", 100, 5.0) for at in range(20)]))
    assert row["median_gain_state"] == "below_limit"
    assert (row["median_gain_bound_low_ul"], row["median_gain_bound_high_ul"]) == (0, limit)


def test_below_detection_is_never_zero_and_never_guessed():
    below = {"is_below_detection": True, "moisture_limit_per_aid_ul": 3.0}
    rows = [load(at, f"w{at}", 100, None, **below) for at in range(30)]
    rows += [load(30 + at, f"v{at}", 100, 5.0) for at in range(20)]
    row = whole(table(rows, WITH_LEVEL))
    assert row["median_gain_ul"] is None  # it lies among the readings below detection
    assert (row["below_detection"], row["undecided"], row["over"]) == (30, 0, 0)
    low = whole(table(rows, Settings(moisture_action_level_ul=2.0)))
    assert (low["undecided"], low["over"]) == (30, 20)


@pytest.mark.parametrize(
    ("days", "months"),
    [(12, "under_1"), (31, "1"), (60, "1"), (61, "2"), (125, "4"), (170, "4"), (183, "6"),
     (900, "12"), (np.nan, None)],
)  # fmt: skip
def test_months_are_rounded_down_to_a_step(days, months):
    assert suggested(days) == months


def test_gaps_of_one_week_alone_tell_no_curve():
    rows = [load(at, f"w{at}", 8 + at % 5, 9.0 if at % 2 else 1.0) for at in range(80)]
    row = whole(table(rows, WITH_LEVEL))
    assert (row["shortest_gap_days"], row["longest_gap_days"]) == (9, 11)
    assert row["over"] == 40
    assert row["days_to_tenth_over"] is row["days_to_half_over"] is None
