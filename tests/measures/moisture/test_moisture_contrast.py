"""Which groups read higher: few rows with the answer worked out by hand."""

from datetime import date

import numpy as np
import polars as pl
import pytest
import scipy.stats

from pipeline.measures.moisture.moisture_contrast import highest_limit
from schemas.measures.moisture_contrast import MoistureContrast
from tests.measures.moisture.test_moisture_distribution import load
from tests.measures.small_warehouse import insert, run, warehouse


def contrasts(loads: list[dict]) -> pl.DataFrame:
    """The table moisture_contrast of these loads."""
    con = warehouse()
    insert(con, "session", loads)
    return run(con, wanted="moisture_contrast")["moisture_contrast"]


def one(frame: pl.DataFrame, grouping: str, group: str) -> dict:
    """The one row of a group."""
    return frame.filter(grouping=grouping, group_1=group).row(0, named=True)


def test_a_wetter_style_reads_higher_by_the_pairs_counted_by_hand():
    # 12 of bte at 5, 6, 7 … against 12 of cic at 1, 2, 3 …; the highest limit .4 is under all.
    loads = [load(at, 5.0 + at, device_style="bte") for at in range(12)]
    loads += [load(50 + at, 1.0 + at, device_style="cic") for at in range(12)]
    frame = contrasts(loads)
    MoistureContrast.validate(frame)
    bte, cic = one(frame, "device_style", "bte"), one(frame, "device_style", "cic")
    wins = sum(np.sign(5 + i - 1 - j) for i in range(12) for j in range(12))
    assert bte["cliffs_delta"] == pytest.approx(wins / 144)
    assert cic["cliffs_delta"] == pytest.approx(-wins / 144)
    assert (bte["verdict"], cic["verdict"]) == ("higher", "lower")
    assert (bte["n"], bte["other_n"], bte["wearers"], bte["cluster_kind"]) == (12, 12, 12, "wearer")
    assert bte["delta_low"] > 0 > cic["delta_high"]
    # One season, one exposure: nothing to set against.
    assert one(frame, "season", "winter")["untested_because"] == "too_few_wearers"


def test_readings_up_to_the_highest_limit_count_as_equal():
    loads = [load(at, 2.0, below=True, device_style="bte") for at in range(12)]
    loads += [load(50 + at, 0.5 + at / 10, device_style="cic") for at in range(12)]
    loads += [load(80 + at, 9.0, device_style="cic") for at in range(12)]
    row = one(contrasts(loads), "device_style", "cic")
    # Half of cic's loads lie at or under 2.0 as all of bte's do; half above.
    assert row["highest_limit_ul"] == 2.0
    assert row["cliffs_delta"] == pytest.approx(0.5)
    assert row["share_at_most_limit"] == pytest.approx(0.5)
    assert row["other_share_at_most_limit"] == 1.0


def test_one_reading_below_a_high_limit_does_not_make_all_equal():
    many = pl.DataFrame({"value": [50, 900, 100], "below": [True, True, False],
                         "loads": [40, 1, 159]})  # fmt: skip
    assert highest_limit(many) == 50
    assert highest_limit(many.with_columns(below=pl.lit(value=False))) == 0


def test_seasons_are_compared_at_the_sites_that_have_them():
    # A tropical site with wet and dry, another with four seasons ten times drier.
    loads = [
        load(at, 20.0 + at % 3, season="wet" if at % 2 else "dry", site_id="site-02")
        for at in range(40)
    ]
    loads += [
        load(100 + at, 2.0 + at % 3, season="summer" if at % 2 else "winter") for at in range(40)
    ]
    wet = one(contrasts(loads), "season", "wet")
    assert (wet["n"], wet["other_n"], wet["sites"]) == (20, 20, 1)
    assert abs(wet["cliffs_delta"]) < 0.2
    assert wet["verdict"] == "not_apart"


def test_a_climate_is_a_matter_of_sites():
    def climates(sites: int) -> dict:
        loads = [
            load(100 * site + at, 2.0 + at % 5 + site % 2, site_id=f"site-{site:02d}",
                 climate_group="arid" if site % 2 else "temperate")
            for site in range(2 * sites) for at in range(15)
        ]  # fmt: skip
        return one(contrasts(loads), "climate_group", "arid")

    few, enough = climates(4), climates(5)
    assert (few["untested_because"], few["verdict"], few["delta_low"]) == (
        "too_few_sites", "cannot_tell", None,
    )  # fmt: skip
    assert few["cliffs_delta"] > 0
    assert (enough["untested_because"], enough["cluster_kind"], enough["sites"]) == (
        None,
        "site",
        5,
    )
    assert enough["verdict"] == "higher"


def test_a_dryer_at_home_is_set_against_none_at_home():
    loads = [load(at, 6.0 + at % 3, home_dryer="none") for at in range(14)]
    loads += [load(20 + at, 1.0 + at % 3, home_dryer="desiccant") for at in range(12)]
    loads += [load(40 + at, 30.0 + at % 3, home_dryer="electric") for at in range(13)]
    loads += [load(60 + at, 90.0, home_dryer="unknown") for at in range(15)]
    frame = contrasts([*loads, load(99, 90.0)])
    found = {
        row["group_1"]: (row["against"], row["n"], row["other_n"], row["cliffs_delta"])
        for row in frame.filter(grouping="home_dryer").to_dicts()
    }
    # Against none alone all of desiccant's are drier and all of electric's wetter; 'none' is
    # wetter than 12 of the 25 with a dryer and drier than 13.
    assert found == {
        "none": (None, 14, 25, pytest.approx((12 - 13) / 25)),
        "desiccant": ("none", 12, 14, -1.0),
        "electric": ("none", 13, 14, 1.0),
    }
    assert one(frame, "device_style", "bte")["against"] is None


def test_all_contrasts_are_one_family():
    draw = np.random.default_rng(5)
    loads = [
        load(at, float(np.round(draw.lognormal(0.3 * (at % 2), 0.8), 2)),
             device_style=("bte", "cic")[at % 2], season=("winter", "summer", "autumn")[at % 3],
             exposure=("splash", "none_known")[at % 5 > 2])
        for at in range(240)
    ]  # fmt: skip
    frame = contrasts(loads).drop_nulls("p_value")
    expected = scipy.stats.false_discovery_control(frame["p_value"].to_numpy())
    assert frame["grouping"].n_unique() == 3
    assert frame["p_adjusted"].to_numpy() == pytest.approx(expected)


def test_no_loads_give_an_empty_table():
    assert contrasts(
        [load(1, 3.0, standing="never_checked", local_date=date(2026, 1, 2))]
    ).is_empty()
