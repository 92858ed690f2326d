"""Charts over time against the published p chart, and rules on series made for them."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from pipeline.statistics.control import (
    is_over_dispersed,
    laney_limits,
    laney_sigma,
    run_chart,
    run_lengths,
    run_p_value,
    share_chart,
)

P_CHART = tomllib.loads((Path(__file__).parents[1] / "checks" / "judgements.toml").read_text())[
    "p_chart"
]
COUNTS = np.array(P_CHART["count"], dtype=float)
FIFTY = np.full(30, 50.0)


def test_published_centre_limits_and_signals():
    chart = share_chart(COUNTS, FIFTY, baseline=30)
    assert chart.centre[0] == pytest.approx(P_CHART["centre"], abs=5e-5)
    low, high = laney_limits(FIFTY[:1], chart.centre[0], 1.0)
    assert low[0] == pytest.approx(P_CHART["low"], abs=5e-5)
    assert high[0] == pytest.approx(P_CHART["high"], abs=5e-5)
    assert (np.flatnonzero(chart.rule == "beyond_limits") + 1).tolist() == P_CHART["outside"]
    assert not (chart.rule == "run_of_eight").any()
    assert (chart.signal[chart.rule != ""] == 1).all()
    assert not chart.is_laney


def test_published_revised_centre_and_limits():
    kept = np.setdiff1d(np.arange(30), np.array(P_CHART["outside"]) - 1)
    chart = share_chart(COUNTS[kept], FIFTY[kept], baseline=28)
    low, high = laney_limits(FIFTY[:1], chart.centre[0], 1.0)
    assert [chart.centre[0], low[0], high[0]] == pytest.approx(P_CHART["revised"], abs=5e-5)


def test_limits_are_the_exact_points():
    chart = share_chart(COUNTS, FIFTY, baseline=30)
    k_low, k_high = chart.low[0] * 50, chart.high[0] * 50
    assert (
        binom.cdf(k_low - 1, 50, chart.centre[0]) < 0.00135 <= binom.cdf(k_low, 50, chart.centre[0])
    )
    assert (
        binom.sf(k_high, 50, chart.centre[0]) <= 0.00135 < binom.sf(k_high - 1, 50, chart.centre[0])
    )


def test_months_that_vary_more_than_chance_have_wider_limits_from_26_of_them():
    draw = np.random.default_rng(2)
    n = np.full(30, 4000.0)
    k = draw.binomial(4000, draw.beta(60, 40, 30)).astype(float)
    chart = share_chart(k, n)
    assert chart.is_laney
    assert not (chart.rule == "beyond_limits").any()
    short = share_chart(k[:25], n[:25])
    assert not short.is_laney
    assert (short.rule == "beyond_limits").sum() > 10
    assert is_over_dispersed(laney_sigma(k, n, float(chart.centre[0])), 30)


def test_spread_of_single_aids_is_about_one():
    draw = np.random.default_rng(7)
    found = [laney_sigma(draw.binomial(80, 0.6, 30).astype(float), np.full(30, 80.0), 0.6)
             for _ in range(300)]  # fmt: skip
    assert np.mean(found) == pytest.approx(1, abs=0.03)
    assert np.var(found) == pytest.approx(0.826 / 29, rel=0.25)


def test_eight_on_one_side_and_a_long_run():
    n = np.full(16, 100.0)
    k = np.array([50, 52] * 4 + [56] * 8, dtype=float)
    chart = share_chart(k, n)
    assert (chart.rule[8:] == "run_of_eight").all()
    assert (chart.signal[8:] == 1).all()
    medians = run_chart(np.array([1.0, 3.0] * 6 + [4.0] * 12))
    assert set(medians.rule[12:]) == {"long_run"}
    assert medians.p_value < 0.01


def test_too_few_crossings():
    # Runs of six in turn: no run is long, but 20 points are crossed but three times.
    values = np.array(([1.0] * 6 + [3.0] * 6) * 2)
    chart = run_chart(values)
    assert chart.rule[-1] == "few_crossings"
    assert chart.p_value == pytest.approx(2 * binom.cdf(3, 23, 0.5))


def test_short_series_signal_nothing():
    chart = share_chart(np.array([1.0, 40.0] * 5), np.full(10, 50.0))
    assert not (chart.rule != "").any()
    assert np.isnan(chart.p_value)
    assert np.isnan(run_chart(np.full(30, np.nan)).p_value)


def test_runs_are_counted():
    sides = np.array([1, 1, -1, 1, -1, -1, -1])
    assert run_lengths(sides).tolist() == [2, 2, 1, 1, 3, 3, 3]
    # Two heads or tails in a row among two tosses: 1/2.
    assert run_p_value(2, 2) == 0.5
    assert run_p_value(1, 5) == 1


def test_aids_that_come_in_pairs_chart_as_half_as_many():
    # Both ears alike: 2k of 2n aids tell what k of n do.
    alone = share_chart(COUNTS, FIFTY, baseline=30)
    pairs = share_chart(2 * COUNTS, 2 * FIFTY, baseline=30, effect=2.0)
    for name in ("centre", "low", "high", "signal"):
        assert getattr(pairs, name) == pytest.approx(getattr(alone, name)), name
    assert pairs.rule.tolist() == alone.rule.tolist()
    assert pairs.p_value == pytest.approx(alone.p_value)
    assert pairs.sigma_z == pytest.approx(alone.sigma_z)


@pytest.mark.parametrize(
    ("runs", "rule"),
    [((3, 3, 3, 3, 3, 3, 3, 3), "few_crossings"), ((3, 3, 3, 3, 2, 3, 2, 3, 2), "")],
)
def test_few_crossings_are_under_the_five_percent_point(runs, rule):
    """Of 24 points the point is 8 crossings: 7 are too few, 8 are not."""
    assert binom.ppf(0.05, 23, 0.5) == 8
    values = np.concatenate([np.full(n, (3.0, 1.0)[at % 2]) for at, n in enumerate(runs)])
    assert values.size == 24
    assert run_chart(values).rule[-1] == rule
