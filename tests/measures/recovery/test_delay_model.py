"""Recovery by delay from made aids, against statsmodels on the single rows."""

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm

from pipeline.disclosure.models import delay
from pipeline.statistics.spline import spline_basis, spline_knots
from tests.measures.recovery.test_rescue_rate import aid
from tests.measures.small_warehouse import insert, run, warehouse

STYLES = ("bte", "ric", "ite")
CONDITIONS = ("dead", "weak", "other_fault")


def aids(count=420, sites=3, seed=8):
    """Wet aids, two of some wearers, whose recovery falls with the delay."""
    draw = np.random.default_rng(seed)
    rows = []
    for wearer in range(count):
        luck = draw.normal(0, 0.8)
        for _ in range(draw.integers(1, 3)):
            hours = float(round(draw.uniform(1, 200)))
            condition = CONDITIONS[draw.integers(0, 3)]
            style = STYLES[draw.integers(0, 3)]
            odds = 1.2 - 0.25 * np.log2(hours) + luck + 0.4 * (style == "ric")
            after = "normal" if draw.random() < 1 / (1 + np.exp(-odds)) else condition
            rows.append(aid(
                len(rows) + 1, f"w{wearer}", after, condition, exposure="immersion",
                hours_since_exposure=hours, device_style=style, power_source="zinc_air",
                water_kind="fresh", site_id=f"site-{wearer % sites:02}",
            ))  # fmt: skip
    return rows


@pytest.fixture(scope="module")
def tables():
    rows = aids(sites=12)
    extra = [
        aid(9001, "x1", None, exposure="splash", hours_since_exposure=3.0, site_id="site-00"),
        aid(9002, "x2", "normal", exposure="splash", delay_band="under_24h", site_id="site-00"),
        aid(9003, "x3", "dead", "normal", exposure="splash", hours_since_exposure=3.0),
        aid(9004, "x4", "dead", exposure="perspiration", hours_since_exposure=3.0),
        aid(9005, "x5", "dead", exposure="splash", hours_since_exposure=3.0, cycle_number=2,
            is_first_cycle=False),
    ]  # fmt: skip
    con = warehouse()
    insert(con, "session_aid", rows + extra)
    insert(con, "site", [
        {"site_id": f"site-{at:02}", "elevation_m": 10.0 if at != 5 else 900.0,
         "climate_group": "temperate" if at < 7 else "arid"} for at in range(12)
    ])  # fmt: skip
    names = ("rescue_model", "rescue_by_delay")
    return rows, {name: run(con, wanted=name)[name] for name in names}


def test_curve_is_that_of_single_rows(tables):
    rows, found = tables
    curve = found["rescue_by_delay"].filter(pl.col("definition") == "back_to_normal")
    x = np.log2(np.array([row["hours_since_exposure"] for row in rows]) + 1)
    y = np.array([row["condition_after"] == "normal" for row in rows], dtype=float)
    basis = spline_basis(x, spline_knots(x, np.ones(x.size)))
    others = [
        np.array([row[name] == level for row in rows], dtype=float)
        for name, levels in (("condition_before_drying", CONDITIONS), ("device_style", STYLES))
        for level in levels[1:]
    ]
    design = np.column_stack([np.ones(y.size), basis, *others])
    wearers = np.unique([row["wearer_key"] for row in rows], return_inverse=True)[1]
    reference = sm.GEE(y, design, groups=wearers, family=sm.families.Binomial()).fit(
        cov_type="bias_reduced", ctol=1e-10
    )
    assert curve["n"][0] == len(rows)
    assert (curve["delay_not_recorded"][0], curve["not_assessed"][0]) == (1, 1)
    for row in curve.to_dicts():
        changed = design.copy()
        at = np.array([np.log2(row["delay_hours"] + 1)])
        changed[:, 1:4] = spline_basis(at, spline_knots(x, np.ones(x.size)))
        assert row["share"] == pytest.approx(float(reference.predict(changed).mean()), abs=1e-6)
        p = reference.predict(changed)
        slope = (p * (1 - p)) @ changed / y.size
        # Mancl and DeRouen's factor is the square of ours; the plain sandwich has none.
        reduced, plain = (
            np.sqrt(slope @ covariance @ slope)
            for covariance in (reference.cov_robust_bc, reference.cov_robust)
        )
        assert plain < reduced
        logit = (np.log(row["share_high"] / (1 - row["share_high"]))
                 - np.log(row["share_low"] / (1 - row["share_low"])))  # fmt: skip
        assert logit == pytest.approx(
            2 * 1.9656 * np.sqrt(plain * reduced) / (row["share"] * (1 - row["share"])), rel=1e-3
        )
    assert curve["delay_hours"].min() >= min(row["hours_since_exposure"] for row in rows)
    assert curve["delay_hours"].max() < 200


def test_recovery_falls_with_the_delay(tables):
    _, found = tables
    last = found["rescue_by_delay"].filter(pl.col("definition") == "back_to_normal").row(-1)
    names = found["rescue_by_delay"].columns
    assert dict(zip(names, last, strict=True))["difference_high"] < 0
    model = found["rescue_model"].filter(pl.col("definition") == "back_to_normal")
    assert model.filter(pl.col("factor") == "delay")["p_value"][0] < 0.01


def test_what_does_not_vary_within_a_site_needs_five_sites(tables):
    _, found = tables
    model = found["rescue_model"].filter(pl.col("definition") == "back_to_normal")
    arid = model.filter(pl.col("level") == "arid").row(0, named=True)
    assert (arid["basis"], arid["sites"], arid["clusters"]) == ("sites", 5, 12)
    assert arid["odds_low"] < arid["odds_ratio"] < arid["odds_high"]
    high = model.filter(pl.col("level") == "500_to_1499_m").row(0, named=True)
    assert (high["basis"], high["sites"], high["odds_ratio"]) == ("described_only", 1, None)
    assert high["rate"] == pytest.approx(high["rescued"] / high["n"])


def test_few_aids_have_no_model():
    con = warehouse()
    insert(con, "session_aid", aids(count=25))
    for name in ("rescue_model", "rescue_by_delay"):
        assert run(con, wanted=name)[name].is_empty()


def test_few_left_out_hide_the_size_of_the_model(tables):
    _, found = tables
    shown = delay(found["rescue_by_delay"], 11)
    assert shown["n"].null_count() == shown.height
    assert shown["delay_not_recorded"].null_count() == shown.height
    assert shown["share"].null_count() == 0
    alone = found["rescue_by_delay"].with_columns(pl.lit(8).alias("wearers"))
    hidden = delay(alone, 11)
    assert hidden.select(pl.exclude("definition", "delay_hours").is_null().all()).row(0) == (
        True,
    ) * (hidden.width - 2)
    assert delay(found["rescue_by_delay"], 1).equals(found["rescue_by_delay"])
