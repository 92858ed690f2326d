"""Moisture against the Oahu arsenic data, and the loads it leaves out."""

from datetime import date

import duckdb
import numpy as np
import polars as pl
import pytest
from lifelines import KaplanMeierFitter
from statsmodels.duration.survfunc import SurvfuncRight

from pipeline.measures.moisture.moisture_distribution import MOISTURE_DISTRIBUTION, infer
from pipeline.settings import Settings
from pipeline.statistics.left_censored import bounds, cumulative, mixed
from pipeline.warehouse.connect import set_variables
from schemas.measures.moisture_distribution import MoistureDistribution
from tests.measures.counted import counted
from tests.measures.small_warehouse import CHECKS, insert, run, warehouse

OAHU = CHECKS["oahu"]


def load(at: int, value: float, *, below: bool = False, **more) -> dict:
    """One load of one aid in a chamber in tolerance."""
    return {
        "site_id": "site-01", "session_key": f"s{at}", "treatment": "dried", "dryer_id": "c1",
        "local_date": date(2026, 1, 5), "month": date(2026, 1, 1), "season": "winter",
        "climate_group": "temperate", "aids_in_chamber": 1, "is_complete": True, "is_alone": True,
        "other_items_in_chamber": "none", "wearer_key": f"w{at}", "device_style": "bte",
        "is_outside_rates": False, "moisture_ul": value, "is_below_detection": below,
        "moisture_limit_ul": value if below else 0.4, "moisture_corrected_ul": value,
        "moisture_per_aid_ul": value, "moisture_limit_per_aid_ul": value if below else 0.4,
        "moisture_basis": "corrected", "standing": "in_tolerance",
    } | more  # fmt: skip


def distribution(loads: list[dict]) -> pl.DataFrame:
    """The table moisture_distribution of these loads."""
    con = warehouse()
    insert(con, "session", loads)
    return run(con, wanted="moisture_distribution")["moisture_distribution"]


def counts_of(con: duckdb.DuckDBPyConnection) -> dict[str, pl.DataFrame]:
    """What the measure's queries count, of lines that are in the warehouse already."""
    set_variables(con, date(2026, 7, 1), Settings())
    return counted(con, MOISTURE_DISTRIBUTION)


def one(frame: pl.DataFrame, aids: int | None = 1, grouping: str = "all", **more) -> dict:
    """The one row of a grouping."""
    found = frame.filter(
        pl.col("grouping") == grouping, pl.col("aids_in_chamber").eq_missing(pl.lit(aids)),
        *(pl.col(name) == value for name, value in more.items()),
    )  # fmt: skip
    assert found.height == 1
    return found.row(0, named=True)


def test_distribution_is_kaplan_meier_by_reversal():
    table = (
        pl.DataFrame({"value": OAHU["value"], "below": OAHU["below"]})
        .with_columns(pl.col("below").cast(pl.Boolean), pl.lit("x").alias("group"))
        .group_by("group", "value", "below")
        .len("loads")
    )
    found = cumulative(table, ["group"]).sort("value")
    assert found["value"].to_list() == [value for value, _ in OAHU["cumulative"]]
    assert found["share_up_to"].to_list() == pytest.approx(
        [share for _, share in OAHU["cumulative"]], abs=1e-5
    )


def test_distribution_agrees_with_lifelines():
    draw = np.random.default_rng(3)
    true, limit = np.round(draw.lognormal(0, 1, 300), 2), draw.choice([0.3, 0.6, 1.0], 300)
    below = true < limit
    value = np.where(below, limit, true)
    fitted = KaplanMeierFitter().fit_left_censoring(value, ~below)
    table = pl.DataFrame({"value": value, "below": below, "group": "x"}).group_by(
        "group", "value", "below"
    ).len("loads")  # fmt: skip
    found = cumulative(table, ["group"]).sort("value")
    expected = [float(fitted.cumulative_density_at_times(v).iloc[0]) for v in found["value"]]
    assert found["share_up_to"].to_list() == pytest.approx(expected, abs=1e-9)


def test_states_and_bounds_of_the_oahu_data():
    loads = [
        load(at, value, below=bool(below))
        for at, (value, below) in enumerate(zip(OAHU["value"], OAHU["below"], strict=True))
    ]
    row = one(distribution(loads))
    assert (row["n"], row["below_detection"], row["wearers"]) == (24, 13, 24)
    # 13 of 24 lie below a limit: the quarter and the median may lie at nothing. The naive
    # quantiles: each at its limit, the 6th and the 12th; the 18th with each at 0 is .7, with each
    # at its limit 2.0. Kaplan-Meier's median, .7, lies inside.
    told = {name: (row[f"{name}_state"], row[f"{name}_bound_low_ul"], row[f"{name}_bound_high_ul"])
            for name in ("p25", "median", "p75")}  # fmt: skip
    assert told == {
        "p25": ("below_limit", 0.0, 0.7),
        "median": ("below_limit", 0.0, 1.0),
        "p75": ("not_estimable", 0.7, 2.0),
    }
    assert row["median_ul"] is None
    # The 22nd: 1.7 with each below at 0, 2.0 with each at its limit; by Kaplan-Meier 1.7.
    assert (row["p90_state"], row["p90_ul"], row["p90_bound_high_ul"]) == ("value", 1.7, None)
    assert row["lowest_limit_ul"] == 0.4
    limits = [row[f"median_{name}"] for name in ("low_ul", "high_ul", "line_se_ul")]
    assert limits == [None, None, None]  # 24 loads, of 40 where limits reach the median


def test_a_centile_among_readings_below_detection_is_under_its_limit():
    loads = [load(at, 0.4, below=True) for at in range(8)] + [
        load(9 + a, 2.0 + a) for a in range(12)
    ]
    row = one(distribution(loads))
    assert (row["p10_ul"], row["p25_ul"], row["median_ul"]) == (None, None, 3.0)
    assert [row[f"{name}_state"] for name in ("p10", "p25", "median")] == [
        "below_limit", "below_limit", "value",
    ]  # fmt: skip
    assert (row["p10_bound_low_ul"], row["p10_bound_high_ul"]) == (0.0, 0.4)
    # Wilson's interval of 8 of 20, each a wearer (R binom::binom.wilson: .2188, .6134).
    assert row["share_below_low"] == pytest.approx(0.2188, abs=5e-4)
    assert row["share_below_high"] == pytest.approx(0.6134, abs=5e-4)


@pytest.mark.parametrize(("limit", "state"), [(2.0, "value"), (2.01, "not_estimable")])
def test_a_quantile_has_a_value_where_its_bounds_are_within_a_factor_of_two(limit, state):
    # 4 below the limit; the 10th of 20 is 1.0 with them at 0, and their limit with them at it.
    loads = [load(at, limit, below=True) for at in range(4)]
    loads += [load(10 + at, 1.0) for at in range(9)] + [load(30 + at, 3.0) for at in range(7)]
    row = one(distribution(loads))
    assert row["median_state"] == state
    bounds = (row["median_bound_low_ul"], row["median_bound_high_ul"])
    assert bounds == ((None, None) if state == "value" else (1.0, limit))


@pytest.mark.parametrize(("below", "state"), [(2, "value"), (3, "below_limit")])
def test_a_tenth_is_below_the_limit_once_more_than_a_tenth_of_the_loads_are(below, state):
    loads = [load(at, 0.9, below=True) for at in range(below)]
    loads += [load(10 + at, 1.0 + at) for at in range(29 - below)]
    assert one(distribution(loads))["p10_state"] == state


@pytest.mark.parametrize(("wearers", "state"), [(9, "not_estimable"), (10, "value")])
def test_a_quantile_needs_ten_wearers(wearers, state):
    row = one(distribution([load(at, 2.0 + at, wearer_key=f"w{at % wearers}") for at in range(30)]))
    assert row["p90_state"] == state
    assert row["p90_bound_low_ul"] is None
    assert (row["share_below_high"] is None) == (wearers < 10)


def test_no_reading_is_not_recorded_and_a_limit_of_nothing_is_never_given():
    row = one(distribution([load(1, 3.0, standing="never_checked")]), basis="corrected")
    assert (row["n"], row["median_state"], row["share_below_detection"]) == (
        0,
        "not_recorded",
        None,
    )
    nothing = {"moisture_limit_ul": 0.0, "moisture_limit_per_aid_ul": 0.0}
    row = one(distribution([load(at, 0.0, below=True, **nothing) for at in range(12)]))
    assert row["median_state"] == "below_limit"
    assert (row["median_bound_high_ul"], row["lowest_limit_ul"]) == (None, None)


def test_a_reading_that_the_line_puts_at_zero_is_below_its_limit():
    loads = [load(at, 0.0) for at in range(4)] + [load(9 + at, 2.0 + at) for at in range(16)]
    row = one(distribution(loads))
    assert (row["below_detection"], row["p10_state"]) == (4, "below_limit")
    assert row["p10_bound_high_ul"] == 0.4


def test_a_pair_stands_in_a_group_only_where_both_aids_share_it():
    pair = {"aids_in_chamber": 2, "is_alone": False}
    mixed = [load(at, 4.0, device_style=None, **pair) for at in range(12)]
    alike = [load(20 + at, 6.0, **pair) for at in range(15)]
    frame = distribution([*mixed, *alike, *(load(50 + at, 2.0) for at in range(30))])
    groups = frame.filter(pl.col("grouping") == "device_style").drop_nulls("group_1")
    counted = {row["aids_in_chamber"]: row["n"] for row in groups.to_dicts()}
    assert counted == {1: 30, 2: 15, None: 45}
    assert one(frame, aids=2)["n"] == 27


def test_by_dryer_at_home():
    loads = [load(at, 2.0, home_dryer="none") for at in range(20)]
    loads += [load(40 + at, 1.0, home_dryer="desiccant") for at in range(11)]
    frame = distribution([*loads, load(90, 1.0)])
    found = {
        row["group_1"]: (row["n"], row["median_ul"])
        for row in frame.filter(grouping="home_dryer", aids_in_chamber=1).to_dicts()
    }
    assert found == {"none": (20, 2.0), "desiccant": (11, 1.0), None: (1, None)}


@pytest.mark.parametrize(("below", "state"), [(16, "value"), (17, "not_estimable")])
def test_only_the_share_where_more_than_four_fifths_are_below(below, state):
    loads = [load(at, 0.4, below=True) for at in range(below)]
    row = one(distribution(loads + [load(50 + at, 2.0) for at in range(20 - below)]))
    assert row["share_below_detection"] == below / 20
    assert (row["p90_ul"], row["p90_state"]) == (2.0 if state == "value" else None, state)


def test_what_is_left_out():
    pair = {"aids_in_chamber": 2, "is_alone": False}
    loads = [
        load(1, 1.0), load(2, 3.0), load(3, 5.0), *(load(30 + at, 3.0) for at in range(7)),
        load(4, 50.0, standing="out_of_tolerance"), load(5, 60.0, standing="never_checked"),
        load(6, 70.0, is_complete=False), load(7, 80.0, is_outside_rates=True),
        load(8, 90.0, other_items_in_chamber="ear_moulds", is_alone=False),
        load(9, 8.0, moisture_per_aid_ul=4.0, **pair),
    ]  # fmt: skip
    frame = distribution(loads)
    row = one(frame)
    assert (row["n"], row["median_ul"]) == (10, 3.0)
    assert (row["left_out_uncalibrated"], row["left_out_incomplete"]) == (2, 1)
    assert row["median_low_ul"] is None  # ten loads
    assert one(frame, aids=2)["median_state"] == "not_estimable"  # one wearer
    assert one(frame, aids=None)["n"] == 11
    site = one(frame, grouping="site_id", basis="as_read")
    assert (site["n"], site["p90_ul"]) == (12, 50.0)


def test_the_months_normal_dew_point_stands_beside():
    con = warehouse()
    insert(con, "climate_normal", [
        {"site_id": "site-01", "month": month, "mean_temp_c": 10.0, "precipitation_mm": 50.0,
         "mean_dew_point_c": dew} for month, dew in ((1, 2.5), (2, 4.1))
    ])  # fmt: skip
    insert(con, "session", [
        load(1, 3.0), load(2, 3.0), load(3, 3.0, local_date=date(2026, 2, 5)),
        load(4, 3.0, site_id="site-02"),
        load(5, 3.0, standing="never_checked", local_date=date(2026, 2, 5)),
    ])  # fmt: skip
    frame = run(con, wanted="moisture_distribution")["moisture_distribution"]
    assert one(frame)["mean_normal_dew_point_c"] == pytest.approx((2.5 + 2.5 + 4.1) / 3)
    assert one(frame, grouping="site_id", basis="corrected", group_1="site-02")[
        "mean_normal_dew_point_c"
    ] is None  # fmt: skip


def test_limits_of_the_median_are_wider_by_wearer():
    own = [load(at, 1 + at / 10) for at in range(200)]
    shared = [row | {"wearer_key": f"w{at // 4}"} for at, row in enumerate(own)]
    alone, together = one(distribution(own)), one(distribution(shared))
    assert alone["median_ul"] == together["median_ul"]
    assert together["median_high_ul"] - together["median_low_ul"] > 1.5 * (
        alone["median_high_ul"] - alone["median_low_ul"]
    )
    # Exact order statistics of 200 (binomial, 95 %): the 86th and the 115th.
    assert alone["median_low_ul"] == pytest.approx(1 + 85 / 10, abs=0.11)
    assert alone["median_high_ul"] == pytest.approx(1 + 114 / 10, abs=0.11)


def test_table_is_valid_and_sorted():
    frame = distribution([load(at, 1.0 + at % 5, season="winter") for at in range(30)])
    MoistureDistribution.validate(frame)
    key = list(MoistureDistribution.Config.metadata["key"])
    assert frame.equals(frame.sort(key))
    assert frame.select(key).is_duplicated().sum() == 0


def test_greenwoods_variance_is_that_of_statsmodels():
    draw = np.random.default_rng(4)
    true, limit = np.round(draw.lognormal(0, 1, 200), 2), draw.choice([0.3, 0.6, 1.0], 200)
    below = true < limit
    value = np.where(below, limit, true)
    table = pl.DataFrame({"value": value, "below": below, "group": "x"}).group_by(
        "group", "value", "below"
    ).len("loads")  # fmt: skip
    found = cumulative(table, ["group"]).filter(pl.col("value").is_between(1.1, 2.0))
    # The survival curve of a large number less the value: the same data reversed.
    fitted = SurvfuncRight(100 - value, ~below)
    at = np.searchsorted(fitted.surv_times, 100 - found["value"].to_numpy() - 1e-6) - 1
    assert found["share_up_to"].to_numpy() == pytest.approx(fitted.surv_prob[at])
    assert found["variance"].to_numpy() == pytest.approx(fitted.surv_prob_se[at] ** 2)
    # With nothing below detection it is the binomial variance.
    plain = cumulative(
        pl.DataFrame({"value": [1.0, 2.0, 3.0], "below": False, "loads": [3, 5, 2], "g": "x"}),
        ["g"],
    )
    assert plain["variance"].to_list() == pytest.approx([0.3 * 0.7 / 10, 0.8 * 0.2 / 10, 0])


def test_where_limits_go_with_wetter_sites_the_curve_is_that_of_sites_mixed_by_loads():
    # A wet site blind under 3, a dry one that sees all: one curve would put the wet site's unseen
    # readings where the dry one's lie. The sites share every local id but their own.
    wet = [
        load(at, 3.0, below=True, moisture_limit_ul=3.0, site_id="site-02") for at in range(10)
    ] + [
        load(at, 4.0 + at / 10, moisture_limit_per_aid_ul=3.0, site_id="site-02")
        for at in range(10, 100)
    ]
    dry = [load(at, 0.5 + at / 100, moisture_limit_per_aid_ul=0.4) for at in range(100)]
    row = one(distribution(wet + dry))
    assert row["n"] == 200
    # Of 200, the 20th is .59 with the ten at 3 and .49 with them at 0, the 50th .99 or .89.
    assert [row[f"{name}_state"] for name in ("p10", "p25")] == ["value", "value"]
    # By sites .10 = (F(dry) + .1)/2 from F(dry) = .10 on: .59; one curve says .53.
    assert row["p10_ul"] == pytest.approx(0.59)
    assert row["p75_ul"] == pytest.approx(4.0 + 49 / 10)


def test_the_curve_of_strata_is_kaplan_meiers_where_there_is_one_and_binomial_without_limits():
    draw = np.random.default_rng(6)
    true, limit = np.round(draw.lognormal(0, 1, 400), 2), draw.choice([0.3, 0.6, 1.0], 400)
    below = true < limit
    value = np.where(below, limit, true)
    rows = pl.DataFrame({"place": 1, "stratum": 1, "value": value, "below": below, "loads": 1})
    table = rows.group_by("place", "stratum", "value", "below").agg(pl.col("loads").sum())
    one_site = mixed(table)
    plain = cumulative(table, ["place"])
    for name in ("share_up_to", "variance"):
        assert one_site[name].to_list() == pytest.approx(plain.sort("value")[name].to_list())
    # Over every limit no stratum is needed: the same curve.
    bare = rows.with_columns(
        pl.when(pl.col("value") <= 1.0).then("stratum").alias("stratum")
    ).group_by("place", "stratum", "value", "below").agg(pl.col("loads").sum())  # fmt: skip
    assert mixed(bare)["share_up_to"].to_list() == pytest.approx(one_site["share_up_to"].to_list())
    # Three sites without limits: the plain shares and their binomial variance.
    free = pl.DataFrame({"place": 1, "stratum": draw.integers(0, 3, 400), "value": true,
                         "below": False, "loads": 1})  # fmt: skip
    found = mixed(free).filter(pl.col("share_up_to") < 1)
    share = np.searchsorted(np.sort(true), found["value"].to_numpy(), side="right") / 400
    assert found["share_up_to"].to_numpy() == pytest.approx(share)
    assert found["variance"].to_numpy() == pytest.approx(share * (1 - share) / 400)


@pytest.mark.parametrize("seed", range(20))
def test_bounds_hold_the_quantile_whatever_the_loads_below_a_limit_held(seed):
    """Limits that go with the reading in any way; the quantile is NumPy's inverted_cdf."""
    draw = np.random.default_rng(seed)
    n = int(draw.integers(20, 400))
    true = np.round(draw.lognormal(0, 1, n), 2)
    limit = np.round(true * draw.lognormal(draw.normal(-1, 0.5), 1, n) + draw.choice([0, 0.5]), 2)
    below = true <= limit
    table = pl.DataFrame(
        {"place": 1, "value": np.where(below, limit, true), "below": below, "loads": 1}
    )
    shares = {"p10": 0.1, "p25": 0.25, "median": 0.5, "p90": 0.9}
    row = bounds(table, ["place"], shares).row(0, named=True)
    for name, share in shares.items():
        found = np.quantile(true, share, method="inverted_cdf")
        assert row[f"{name}_low"] <= found <= row[f"{name}_high"]
        # No narrower bounds would do: both ends are quantiles of loads that could have been.
        ends = [np.quantile(np.where(below, at, true), share, method="inverted_cdf")
                for at in (0.0, limit)]  # fmt: skip
        assert [row[f"{name}_low"], row[f"{name}_high"]] == ends


def test_readings_outside_the_doses_checked_keep_their_side():
    # A chamber 25 % low, checked from 5 to 20 µL: a corrected 25 µL reads 18.75 and counts as at
    # least 20; a corrected 3 µL counts as below 5.
    con = warehouse()
    insert(con, "calibration_line", [{
        "site_id": "site-01", "dryer_id": "c1", "known_from": date(2026, 1, 1),
        "is_applied": True, "intercept_ul": 0.0, "slope": 0.75,
        "lowest_dose_ul": 5.0, "highest_dose_ul": 20.0, "intercept_se_ul": 0.0, "slope_se": 0.0,
        "intercept_slope_correlation": 0.0,
    }])  # fmt: skip
    outside = {
        "standing": "correctable",
        "moisture_basis": "as_read",
        "moisture_corrected_ul": None,
    }
    insert(con, "session", [
        load(1, 18.75, **outside),
        load(2, 2.25, **outside),
        *(load(3 + at, 6.0 + at, standing="correctable") for at in range(8)),
    ])  # fmt: skip
    frame = counts_of(con)["moisture_distribution"]
    held = frame.filter(grouping_id=511, aids=1, is_corrected=True).sort("value_ul")
    assert held["value_ul"].to_list() == [5.0, *(6.0 + at for at in range(8)), 20.0]
    assert held["below"].to_list() == [True] + [False] * 9


def test_the_lines_error_widens_the_limits_of_the_median():
    def median(slope_se: float) -> dict:
        con = warehouse()
        insert(con, "session", [load(at, 1 + at / 10) for at in range(200)])
        insert(con, "calibration_line", [{
            "site_id": "site-01", "dryer_id": "c1", "known_from": date(2026, 1, 1),
            "is_applied": True, "intercept_ul": 0.0, "slope": 1.0,
            "lowest_dose_ul": 0.0, "highest_dose_ul": 50.0, "intercept_se_ul": 0.3,
            "slope_se": slope_se, "intercept_slope_correlation": -0.5,
        }])  # fmt: skip
        return one(infer(counts_of(con), Settings()))

    exact, unsure = median(0.0), median(0.05)
    m = exact["median_ul"]
    assert exact["median_line_se_ul"] == pytest.approx(0.3, abs=1e-3)
    # Var(a + b·m) = .3² + 2·(-.5)·.3·.05·m + (.05·m)².
    error = (0.09 - 0.015 * m + (0.05 * m) ** 2) ** 0.5
    assert unsure["median_line_se_ul"] == pytest.approx(error, abs=1e-3)
    for row in (exact, unsure):
        reach = 1.96 * row["median_line_se_ul"]
        # Exact order statistics of 200, the 86th and the 115th, lie 1.4 and 1.5 from the median.
        assert row["median_low_ul"] == pytest.approx(m - np.hypot(1.4, reach), abs=0.11)
        assert row["median_high_ul"] == pytest.approx(m + np.hypot(1.5, reach), abs=0.11)
