"""Moisture against the Oahu arsenic data, and the loads it leaves out."""

from datetime import date

import duckdb
import numpy as np
import polars as pl
import pytest
from lifelines import KaplanMeierFitter
from statsmodels.duration.survfunc import SurvfuncRight

from pipeline.measures.moisture_curve import cumulative
from pipeline.measures.moisture_distribution import MOISTURE_DISTRIBUTION, infer
from pipeline.settings import Settings
from pipeline.warehouse.connect import set_variables
from pipeline.warehouse.measure import counted
from schemas.measures.moisture_distribution import MoistureDistribution
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


def test_median_of_the_oahu_data():
    loads = [
        load(at, value, below=bool(below))
        for at, (value, below) in enumerate(zip(OAHU["value"], OAHU["below"], strict=True))
    ]
    # Every limit but those of readings below is 0.4, under the lowest value.
    row = one(distribution(loads))
    assert (row["n"], row["below_detection"], row["wearers"]) == (24, 13, 24)
    assert row["median_ul"] == OAHU["median"]
    assert row["p25_ul"] == 0.5  # the share up to 0.5 is .34
    assert row["lowest_limit_ul"] == 0.4


def test_a_centile_among_readings_below_detection_is_null():
    loads = [load(at, 0.4, below=True) for at in range(4)] + [
        load(9 + a, 2.0 + a) for a in range(6)
    ]
    row = one(distribution(loads))
    assert (row["p10_ul"], row["p25_ul"], row["median_ul"]) == (None, None, 2.0)


def test_only_the_share_where_most_are_below():
    loads = [load(at, 0.4, below=True) for at in range(17)] + [load(50 + a, 2.0) for a in range(3)]
    row = one(distribution(loads))
    assert row["share_below_detection"] == 0.85
    assert row["p90_ul"] is None


def test_what_is_left_out():
    pair = {"aids_in_chamber": 2, "is_alone": False}
    loads = [
        load(1, 1.0), load(2, 3.0), load(3, 5.0),
        load(4, 50.0, standing="out_of_tolerance"), load(5, 60.0, standing="never_checked"),
        load(6, 70.0, is_complete=False), load(7, 80.0, is_outside_rates=True),
        load(8, 90.0, other_items_in_chamber="ear_moulds", is_alone=False),
        load(9, 8.0, moisture_per_aid_ul=4.0, **pair),
    ]  # fmt: skip
    frame = distribution(loads)
    row = one(frame)
    assert (row["n"], row["median_ul"]) == (3, 3.0)
    assert (row["left_out_uncalibrated"], row["left_out_incomplete"]) == (2, 1)
    assert row["median_low_ul"] is None  # three wearers
    assert one(frame, aids=2)["median_ul"] == 4.0
    assert one(frame, aids=None)["n"] == 4
    site = one(frame, grouping="site_id", basis="as_read")
    assert (site["n"], site["median_ul"]) == (5, 5.0)


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


def test_a_limit_that_tells_the_place_gives_curves_within_limits():
    # A wet chamber blind under 3, a dry one that sees all: one curve would put the wet chamber's
    # unseen readings where the dry one's lie.
    wet = [load(at, 3.0, below=True, moisture_limit_ul=3.0) for at in range(40)] + [
        load(100 + at, 4.0 + at / 10, moisture_limit_per_aid_ul=3.0) for at in range(60)
    ]
    dry = [load(200 + at, 0.5 + at / 100, moisture_limit_per_aid_ul=0.4) for at in range(100)]
    row = one(distribution(wet + dry))
    assert row["is_by_limit"]
    # 70 % lie at or under 3; under 3 the place of a fifth of all loads is not known.
    assert (row["p10_ul"], row["p25_ul"], row["median_ul"]) == (None, None, None)
    assert row["p75_ul"] == pytest.approx(4.9, abs=0.11)
    assert not one(distribution(dry))["is_by_limit"]


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
    held = frame.filter(grouping_id=255, aids=1, is_corrected=True).sort("value")
    assert held["value"].to_list() == [5.0, *(6.0 + at for at in range(8)), 20.0]
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
