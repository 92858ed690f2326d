"""Shrunken ratios against batters and litters; equal sites stay at 1."""

import numpy as np
import pytest
from scipy.stats import betabinom

from pipeline.statistics.shrinkage import (
    common_spread,
    log_likelihood,
    shrunken_limits,
    shrunken_ratios,
    spread_weights,
)
from tests.statistics.comparison_checks import CHECKS


@pytest.mark.parametrize("given", CHECKS["litters"], ids=lambda row: str(row["mean"]))
def test_spread_of_litters(given):
    n, y = np.array(given["n"]), np.array(given["y"])
    mean = np.full(n.size, given["mean"])
    spread = common_spread(y, n, mean)
    assert spread / (1 + spread) == pytest.approx(given["correlation"], rel=2e-3)
    assert log_likelihood(spread, y, n, mean) == pytest.approx(given["log_likelihood"], abs=1e-5)
    drawn = shrunken_ratios(y, n, mean, spread)
    assert drawn[-1] * given["mean"] == pytest.approx(given["last"], abs=2e-4)
    low, high = shrunken_limits(y, n, mean, spread_weights(y, n, mean))
    assert (low < drawn).all()
    assert (drawn < high).all()


def test_likelihood_is_scipys():
    found = log_likelihood(0.25, [3, 0, 7], [5, 4, 9], [0.6, 0.2, 0.5])
    a, b = np.array([2.4, 0.8, 2.0]), np.array([1.6, 3.2, 2.0])
    assert found == pytest.approx(betabinom.logpmf([3, 0, 7], [5, 4, 9], a, b).sum())


def test_batters_are_drawn_in_by_the_published_factor():
    batters = CHECKS["batters"]
    hits, n = np.array(batters["hits"]), float(batters["at_bats"])
    # A prior of m at-bats leaves the factor n/(n + m) of each batter's distance from the mean.
    spread = batters["factor"] / (1 - batters["factor"]) / n
    mean = np.full(hits.size, batters["mean"])
    drawn = shrunken_ratios(hits, np.full(hits.size, n), mean, spread)
    assert drawn * batters["mean"] == pytest.approx(batters["estimates"], abs=6e-5)


def test_equal_sites_have_no_spread():
    n = np.full(12, 100.0)
    mean = np.full(12, 0.5)
    assert common_spread(n / 2, n, mean) == 0
    assert common_spread([40.0], [100.0], [0.5]) == 0
    assert shrunken_ratios([70.0], [100.0], [0.5], 0.0) == 1


def test_the_fewer_aids_the_nearer_to_one():
    drawn = shrunken_ratios([90, 9], [100, 10], [0.6, 0.6], 0.05)
    assert 1 < drawn[1] < drawn[0] < 1.5


def test_limits_are_those_of_a_sampled_posterior():
    # The same model, sampled by rejection: the root of the correlation up to .6 with density ∝ √.
    events, n, mean = np.array([30, 52, 41, 70]), np.array([60, 80, 80, 90]), np.full(4, 0.6)
    rng = np.random.default_rng(9)
    correlation = (0.6 * rng.uniform(0, 1, 200_000) ** (2 / 3)) ** 2
    a, b = (m * (1 - correlation) / correlation for m in (0.6, 0.4))
    density = betabinom.logpmf(events[:, None], n[:, None], a, b).sum(axis=0)
    kept = rng.random(density.size) < np.exp(density - density.max())
    share = rng.beta(a[kept] + events[:, None], b[kept] + (n - events)[:, None])
    wanted = np.quantile(share / 0.6, [0.025, 0.975], axis=1)
    found = shrunken_limits(events, n, mean, spread_weights(events, n, mean))
    assert np.array(found) == pytest.approx(wanted, abs=0.01)


def test_equal_sites_have_limits_all_the_same():
    n, mean = np.full(12, 100.0), np.full(12, 0.5)
    low, high = shrunken_limits(n / 2, n, mean, spread_weights(n / 2, n, mean))
    assert (low < 0.99).all()
    assert (high > 1.01).all()


@pytest.mark.parametrize("given", CHECKS["litters"], ids=lambda row: str(row["mean"]))
def test_the_spread_does_not_hang_on_the_last_digit(given):
    n, y = np.array(given["n"], dtype=float), np.array(given["y"], dtype=float)
    mean = np.full(n.size, given["mean"])
    moved = common_spread(y * (1 + 1e-14), n * (1 - 1e-14), mean * (1 + 1e-14))
    assert moved == pytest.approx(common_spread(y, n, mean), rel=1e-10)
