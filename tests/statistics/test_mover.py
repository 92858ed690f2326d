"""Limits of differences, products and sums from limits of their parts."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from pipeline.statistics.intervals import wilson
from pipeline.statistics.mover import Limits, difference, product

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "differences.toml").read_text())


def share(k: float, n: float) -> Limits:
    return Limits(k / n if n else np.nan, *wilson(k, n))


@pytest.mark.parametrize("row", CHECKS["independent"], ids=lambda r: f"{r['x1']}/{r['n1']}")
def test_a_difference_of_proportions_is_newcombes(row):
    found = difference(share(row["x1"], row["n1"]), share(row["x2"], row["n2"]))
    assert (found.low, found.high) == pytest.approx(row["limits"], abs=6e-5)


def test_arms_without_observations_have_no_limits_and_others_those_of_statsmodels():
    """Effective sizes are not whole; statsmodels takes them as they are."""
    assert np.isnan(difference(share(0, 0), share(5, 10)).low)
    rng = np.random.default_rng(1)
    for n_1, n_0 in rng.uniform(1, 400, (20, 2)):
        k_1, k_0 = n_1 * rng.random(), n_0 * rng.random()
        theirs = confint_proportions_2indep(
            k_1, n_1, k_0, n_0, compare="diff", method="newcomb", alpha=0.1
        )
        ours = difference(Limits(k_1 / n_1, *wilson(k_1, n_1, 0.9)),
                          Limits(k_0 / n_0, *wilson(k_0, n_0, 0.9)))  # fmt: skip
        assert (ours.low, ours.high) == pytest.approx(theirs, rel=1e-9)


def test_times_a_known_share_scales_the_limits():
    found = product(share(30, 50), Limits(0.75, 0.75, 0.75))
    assert (found.low, found.high) == pytest.approx([0.75 * v for v in wilson(30, 50)])


@pytest.mark.parametrize("value", [0.4, -0.4])
def test_a_product_is_wider_than_with_either_factor_known(value):
    first, other = Limits(value, value - 0.1, value + 0.2), Limits(0.5, 0.3, 0.6)
    found = product(first, other)
    known = product(first, Limits(0.5, 0.5, 0.5))
    assert found.low < known.low
    assert found.high > known.high
    # Of a number above 0 the product falls most with the share's low, of one below with its high.
    reach = 0.4 * (0.2 if value > 0 else 0.1)
    assert found.value - found.low == pytest.approx(np.hypot(0.5 * 0.1, reach))


def test_the_complement_turns_the_limits():
    found = Limits(0.2, 0.1, 0.4).complement()
    assert (found.value, found.low, found.high) == pytest.approx((0.8, 0.6, 0.9))


def test_what_is_not_known_stays_unknown():
    found = difference(Limits(np.nan, np.nan, np.nan), share(1, 10))
    assert np.isnan([found.value, found.low, found.high]).all()
    assert np.isnan(product(share(1, 10), Limits(np.nan, np.nan, np.nan)).low)
