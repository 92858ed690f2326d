"""Quantile regression against R quantreg, order statistics, and truth behind limits."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import quantile_test
from statsmodels.datasets import engel

from pipeline.statistics.quantile_regression import (
    censored_quantile_regression,
    independent,
    order_limits,
    quantile_regression,
    rearranged,
)

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "moisture.toml").read_text())


@pytest.mark.parametrize("row", CHECKS["engel"], ids=lambda row: str(row["share"]))
def test_engels_law(row):
    data = engel.load_pandas().data
    income, food = data["income"].to_numpy(), data["foodexp"].to_numpy()
    x = np.column_stack([np.ones(income.size), income])
    found = quantile_regression(x, food, np.ones(income.size), row["share"])
    assert found == pytest.approx([row["intercept"], row["slope"]], abs=2e-4)


def test_a_weight_is_a_count():
    draw = np.random.default_rng(5)
    x = np.column_stack([np.ones(40), draw.normal(size=40)])
    y, weights = draw.normal(size=40), draw.integers(1, 4, 40)
    whole = quantile_regression(
        np.repeat(x, weights, axis=0), np.repeat(y, weights), np.ones(weights.sum()), 0.37
    )
    assert quantile_regression(x, y, weights.astype(float), 0.37) == pytest.approx(whole)


@pytest.mark.parametrize("n", [20, 21, 40])
@pytest.mark.parametrize("share", [0.05, 0.25, 0.5, 0.75, 0.9])
def test_of_several_best_fits_it_is_the_least_value_that_reaches_the_share(n, share):
    y = np.random.default_rng(n).normal(size=n)
    found = quantile_regression(np.ones((n, 1)), y, np.ones(n), share)
    assert found[0] == pytest.approx(np.quantile(y, share, method="inverted_cdf"), abs=1e-12)


def test_dependent_columns_are_told_or_left_out():
    columns = np.column_stack([np.ones(4), [1, 1, 0, 0], [0, 0, 1, 1], [0, 1, 0, 1]])
    assert independent(columns).shape == (4, 3)
    assert censored_quantile_regression(
        columns, np.arange(4.0), np.full(4, -np.inf), np.ones(4), 0.5
    ) is None  # fmt: skip


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_readings_below_a_limit_do_not_bend_the_line(share):
    # True line of each share: 1 + x + its normal quantile; two in five readings are below 1.4.
    draw = np.random.default_rng(8)
    x = np.column_stack([np.ones(4000), draw.uniform(0, 2, 4000)])
    true = x @ [1.0, 1.0] + draw.normal(0, 1, 4000)
    limit = np.full(4000, 1.4)
    seen = np.maximum(true, limit)
    found = censored_quantile_regression(x, seen, limit, np.ones(4000), share)
    expected = [1 + {0.25: -0.67449, 0.5: 0.0, 0.75: 0.67449}[share], 1.0]
    assert found is not None
    assert found[0] == pytest.approx(expected, abs=0.12)
    assert 0 < (~found[1]).sum() < 4000 or share == 0.75
    plain = quantile_regression(x, seen, np.ones(4000), share)
    if share == 0.25:
        assert abs(plain[1] - 1) > 0.2  # the readings taken as they stand flatten the line


def test_without_columns_the_limits_are_order_statistics():
    draw = np.random.default_rng(2)
    for n, share in ((60, 0.5), (200, 0.9), (500, 0.25)):
        y = np.sort(draw.lognormal(size=n))
        exact = quantile_test(y, p=share).confidence_interval(0.95)
        low, high = order_limits(np.array([1 / n]), np.array([share]), 0.95)
        found = np.quantile(y, [low[0], high[0]], method="inverted_cdf")
        ranks = np.searchsorted(y, found), np.searchsorted(y, [exact.low, exact.high])
        assert np.abs(ranks[0] - ranks[1]).max() <= 1 + 0.01 * n


def test_no_limit_beyond_the_data():
    low, high = order_limits(np.array([1 / 30]), np.array([0.03]), 0.95)
    assert np.isnan(low[0])
    assert high[0] < 1


def test_centiles_that_cross_are_put_in_order():
    given = np.array([[1.0, 3.0, 2.0], [np.nan, 2.0, 1.0]])
    assert np.array_equal(rearranged(given), [[1.0, 2.0, 3.0], [np.nan, 1.0, 2.0]], equal_nan=True)
    assert given[0, 1] == 3.0
