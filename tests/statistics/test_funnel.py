"""Funnel limits against published and library numbers."""

import numpy as np
import pytest
from scipy.stats import poisson, poisson_binom

from pipeline.statistics import funnel
from pipeline.statistics.funnel import count_quantiles, interpolated_quantile, poisson_binomial
from tests.statistics.comparison_checks import CHECKS

SHARES = [0.001, 0.025, 0.975, 0.999]


@pytest.mark.parametrize("given", CHECKS["funnel"], ids=lambda row: str(row["n"]))
def test_limits_of_equal_chances_are_the_interpolated_binomial(given):
    found = count_quantiles([given["n"]], [given["target"]], SHARES) / given["n"]
    assert found == pytest.approx(given["limits"], abs=6e-6)
    split = [given["n"] // 2, given["n"] - given["n"] // 2]
    both = count_quantiles(split, [given["target"]] * 2, SHARES) / given["n"]
    assert both == pytest.approx(found, abs=1e-9)


@pytest.mark.parametrize("given", CHECKS["funnel_of_rare"], ids=lambda row: str(row["expected"]))
def test_interpolation_of_the_poisson_distribution(given):
    cumulative = poisson.cdf(np.arange(10 * given["expected"]), given["expected"])
    found = [interpolated_quantile(cumulative, share) / given["expected"] for share in SHARES]
    assert found == pytest.approx(given["limits"], abs=6e-6)


@pytest.mark.parametrize("total", [1, 2, 41, 60])
def test_probabilities_are_scipys(total):
    chance = np.random.default_rng(total).random(total)
    expected = poisson_binom(chance).pmf(np.arange(total + 1))
    assert poisson_binomial(np.ones(total), chance) == pytest.approx(expected, abs=1e-12)


def test_patterns_of_many_aids_are_scipys():
    rng = np.random.default_rng(7)
    n, chance = rng.integers(0, 9, 180), rng.beta(1, 4, 180)
    alone = np.repeat(chance, n)
    expected = poisson_binom.pmf(np.arange(alone.size + 1), alone)
    assert poisson_binomial(n, chance) == pytest.approx(expected, abs=1e-14)
    assert poisson_binomial([0, 0], [0.2, 0.4]).tolist() == [1]


def test_certain_and_impossible_events():
    found = poisson_binomial([2, 3, 1], [1.0, 0.0, 0.5])
    assert found == pytest.approx([0, 0, 0.5, 0.5, 0, 0, 0], abs=1e-12)


def test_many_aids_by_the_skewed_normal_form(monkeypatch):
    rng = np.random.default_rng(3)
    n, chance = rng.integers(1, 6, 480), rng.beta(1, 5, 480)
    exact_up_to = int(n.sum())
    monkeypatch.setattr(funnel, "LARGEST_EXACT", exact_up_to)
    exact = count_quantiles(n, chance, SHARES)
    monkeypatch.setattr(funnel, "LARGEST_EXACT", 10)
    assert count_quantiles(n, chance, SHARES) == pytest.approx(exact, abs=0.1)


def test_no_limit_lies_under_no_event_or_over_all_aids():
    """Of 2000 aids with one event expected: 0 events have a chance of e^-1, over a thousandth."""
    assert count_quantiles([2000], [1 / 2000], [0.001]).tolist() == [0]
    assert count_quantiles([2000], [1 - 1e-9], [0.999])[0] <= 2000
