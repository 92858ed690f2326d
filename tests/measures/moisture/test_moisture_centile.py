"""Moisture centiles: who counts, when a centile is given, and what small cells borrow."""

import numpy as np
import polars as pl
import pytest

from pipeline.measures.moisture.moisture_centile import MOISTURE_CENTILE, infer
from pipeline.settings import Settings
from tests.disclosure.shared import shared
from tests.measures.counted import counted
from tests.measures.moisture.test_moisture_distribution import load
from tests.measures.small_warehouse import insert, warehouse


def visit(at: int, value: float, **more) -> dict:
    """One clean-and-check of a working aid that was dried before."""
    return load(at, value, **{
        "visit_reason": "clean_and_check", "condition_before_drying": "normal",
        "exposure": "none_known", "days_since_dry_band": "30_89_days",
    } | more)  # fmt: skip


def centiles(visits: list[dict]) -> pl.DataFrame:
    """The table moisture_centile of these loads."""
    con = warehouse()
    insert(con, "session", visits)
    return infer(counted(con, MOISTURE_CENTILE), Settings())


def at(frame: pl.DataFrame, centile: int, **cell) -> dict:
    """One centile of a cell; what is not named is null."""
    keys = ("device_style", "days_since_dry_band", "climate_group", "season")
    wanted = {"device_style": "bte"} | cell
    row = frame.filter(
        pl.col("centile") == centile,
        *(pl.col(key).eq_missing(pl.lit(wanted.get(key))) for key in keys),
    )
    assert row.height == 1
    return row.row(0, named=True)


def test_centiles_of_a_hundred_and_fifty():
    frame = centiles([visit(i, 1 + i / 10) for i in range(150)])
    found = {p: at(frame, p) for p in (3, 10, 25, 50, 75, 90, 97)}
    # The least value that this share of 150 does not exceed: ranks 5, 15, 38, 75, 113, 135, 146.
    expected = [1 + (rank - 1) / 10 for rank in (5, 15, 38, 75, 113, 135, 146)]
    values = [row["moisture_per_aid_ul"] for row in found.values()]
    assert values == pytest.approx(expected)
    # z·√(.25/150) = .08: the 63rd and the 87th, against binomial order statistics 63 and 88.
    assert found[50]["low_ul"] == pytest.approx(1 + 62 / 10)
    assert found[50]["high_ul"] == pytest.approx(1 + 87 / 10, abs=0.11)
    assert at(frame, 50, days_since_dry_band="30_89_days")["n"] == 150


@pytest.mark.parametrize(
    ("wearers", "given"),
    [(19, []), (20, [25, 50, 75]), (45, [10, 25, 50, 75, 90]),
     (150, [3, 10, 25, 50, 75, 90, 97])],
)  # fmt: skip
def test_outer_centiles_need_more_wearers(wearers, given):
    frame = centiles([visit(i, 1 + i / 10) for i in range(wearers)])
    cell = frame.filter(pl.col("days_since_dry_band").is_null() & pl.col("climate_group").is_null())
    assert cell.drop_nulls("moisture_per_aid_ul")["centile"].to_list() == given
    assert (cell["withheld"] == "too_few_wearers").sum() == 7 - len(given)


def test_a_centile_under_the_highest_limit_stands_where_its_bounds_hold_it():
    low = [visit(i, 0.4 + i / 100) for i in range(30)]
    high = [
        visit(100 + i, 0.9, below=True, moisture_limit_per_aid_ul=0.9) if i < 10
        else visit(100 + i, 1.0 + i / 10, moisture_limit_per_aid_ul=0.9)
        for i in range(30)
    ]  # fmt: skip
    frame = centiles(low + high)
    # The 6th of 60 may lie among the ten below .9; with them at .9 it is .45.
    assert at(frame, 10)["moisture_per_aid_state"] == "below_limit"
    assert at(frame, 10)["moisture_per_aid_bound_high_ul"] == pytest.approx(0.45)
    assert at(frame, 10)["withheld"] == "below_detection"
    # The 15th: .44 with them at 0, .54 with them at .9: within a factor of two.
    quarter = at(frame, 25)
    assert quarter["moisture_per_aid_state"] == "value"
    assert 0.44 <= quarter["moisture_per_aid_ul"] <= 0.54
    # Its own limits assume nothing: the 9th at 0 has no number.
    assert quarter["low_ul"] is None
    assert at(frame, 75)["moisture_per_aid_ul"] == pytest.approx(2.4)  # the 45th of 60
    assert (at(frame, 75)["highest_limit_ul"], at(frame, 75)["below_detection"]) == (0.9, 10)


def test_a_centile_whose_bounds_lie_apart_is_not_estimable_and_says_between_what():
    # Of 60 the 15th is .2 with the twelve below 3.0 at 0, and 1.1 with them at 3.0.
    loads = [visit(i, 3.0, below=True, moisture_limit_per_aid_ul=3.0) for i in range(12)]
    loads += [visit(20 + i, 0.2) for i in range(8)] + [visit(40 + i, 1.1) for i in range(40)]
    frame = centiles(loads)
    row = at(frame, 25)
    assert (row["moisture_per_aid_state"], row["withheld"]) == ("not_estimable", "limits_differ")
    bounds = (row["moisture_per_aid_bound_low_ul"], row["moisture_per_aid_bound_high_ul"])
    assert bounds == (0.2, 1.1)
    assert at(frame, 3)["moisture_per_aid_bound_high_ul"] is None  # too few wearers


@pytest.mark.parametrize("seed", range(10))
def test_centiles_rise_and_lie_inside_their_bounds(seed):
    draw = np.random.default_rng(seed)
    limit = draw.choice([0.2, 0.8, 2.0], 400)
    true = np.round(draw.lognormal(0.3, 0.9, 400), 2)
    frame = centiles([
        visit(i, float(max(x, m)), below=bool(x < m), moisture_limit_per_aid_ul=float(m),
              season=("winter", "summer", "spring")[i % 10 // 4])
        for i, (x, m) in enumerate(zip(true, limit, strict=True))
    ])  # fmt: skip
    for _, cell in frame.group_by("device_style", "days_since_dry_band", "climate_group", "season"):
        told = cell.sort("centile").filter(pl.col("moisture_per_aid_state") == "value")
        assert told["moisture_per_aid_ul"].is_sorted()
        bounded = cell.sort("centile").drop_nulls("moisture_per_aid_bound_high_ul")
        assert bounded["moisture_per_aid_bound_high_ul"].is_sorted()
    states = set(frame["moisture_per_aid_state"])
    assert states == {"value", "below_limit", "not_estimable"}
    is_value = frame["moisture_per_aid_state"] == "value"
    assert (frame["moisture_per_aid_ul"].is_not_null() == is_value).all()
    assert (frame["withheld"].is_null() == is_value).all()


def test_one_visit_of_each_wearer_whatever_the_order_of_rows():
    visits = [visit(i, 1 + i / 10, wearer_key=f"w{i % 30}") for i in range(300)]
    frame = centiles(visits)
    assert at(frame, 50)["n"] == 30
    assert frame.equals(centiles(visits[::-1]))


def test_who_is_left_out():
    other = [
        visit(900, 50.0, visit_reason="problem_reported"), visit(901, 50.0, exposure="immersion"),
        visit(902, 50.0, condition_before_drying="weak"), visit(903, 50.0, is_alone=False),
        visit(904, 50.0, days_since_dry_band="first_seen"), visit(905, 50.0, is_complete=False),
        visit(906, 50.0, standing="never_checked"), visit(907, 50.0, is_outside_rates=True),
        visit(908, 50.0, exposure=None), visit(909, 50.0, days_since_dry_band=None),
        visit(910, 50.0, device_style=None),
    ]  # fmt: skip
    frame = centiles([visit(i, 2.0) for i in range(25)] + other)
    assert at(frame, 50)["n"] == 25
    assert frame["moisture_per_aid_ul"].max() == 2.0


def test_a_small_cell_takes_effects_of_climate_and_season():
    # Log readings: 1 in the arid winter, summer adds .7, temperate adds .4; no arid summer of 45.
    draw = np.random.default_rng(4)
    visits = []
    cells = (("arid", "winter", 300, 1.0), ("arid", "summer", 24, 1.7),
             ("temperate", "winter", 300, 1.4), ("temperate", "summer", 300, 2.1))  # fmt: skip
    for climate, season, n, centre in cells:
        for value in np.exp(draw.normal(centre, 0.5, n)):
            visits.append(visit(len(visits), float(value), climate_group=climate, season=season))
    frame = centiles(visits)
    cell = at(frame, 50, climate_group="arid", season="summer")
    assert cell["n"] == 24
    assert cell["moisture_per_aid_ul"] == pytest.approx(np.exp(1.7), rel=0.12)
    assert cell["low_ul"] < np.exp(1.7) < cell["high_ul"]
    # Its own 24 alone would be four times as uncertain as the effects of 924.
    assert cell["high_ul"] / cell["low_ul"] < np.exp(2 * 1.96 * 1.2533 * 0.5 / np.sqrt(24))


def test_a_cell_without_climate_or_season_counts_in_the_whole_only():
    frame = centiles([visit(i, 2.0, season=None) for i in range(20)])
    assert at(frame, 50)["n"] == 20
    assert frame["season"].null_count() == frame.height


def test_small_cells_and_what_reveals_them_are_hidden():
    seasons = ["winter"] * 60 + ["summer"] * 40 + ["spring"] * 4
    frame = centiles([visit(i, 2 + i / 50, season=s) for i, s in enumerate(seasons)])
    shown = shared({"moisture_centile": frame}, 11)["moisture_centile"]
    by = {
        s: at(shown, 50, climate_group="temperate", season=s)["n"]
        for s in ("winter", "summer", "spring")
    }
    assert by["spring"] is None
    assert by["summer"] is None  # 104 - 60 - 40 would give it away
    assert (by["winter"], at(shown, 50, climate_group="temperate")["n"]) == (60, 104)
