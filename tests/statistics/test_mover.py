"""Limits of differences, products and sums from limits of their parts."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from pipeline.statistics.intervals import wilson
from pipeline.statistics.mover import Limits, difference, product

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "differences.toml").read_text())


def share(k: float, n: float) -> Limits:
    return Limits(k / n, *wilson(k, n))


@pytest.mark.parametrize("row", CHECKS["independent"], ids=lambda r: f"{r['x1']}/{r['n1']}")
def test_a_difference_of_proportions_is_newcombes(row):
    found = difference(share(row["x1"], row["n1"]), share(row["x2"], row["n2"]))
    assert (found.low, found.high) == pytest.approx(row["limits"], abs=6e-5)


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
