"""Numbers needed and regression to the mean: outside numbers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.proportion import confint_proportions_2indep

from pipeline.statistics.differences import number_needed
from pipeline.statistics.regression_to_mean import expected_change, reliability

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "differences.toml").read_text())


def test_number_needed_goes_through_infinity():
    given = CHECKS["number_needed"]
    found = number_needed(0.10, *given["limits"])
    assert found is not None
    assert (found.kind, found.nearest, found.other) == ("benefit", given["benefit"], given["harm"])
    assert found.farthest is None
    assert found.words() == (
        "10 for one benefit; the interval runs from 4 for one benefit through infinity to 20 for"
        " one harm"
    )
    harm = number_needed(-0.10, -0.25, 0.05)
    assert harm is not None
    assert (harm.kind, harm.nearest, harm.other) == ("harm", 4, 20)


def test_number_needed_of_a_plain_interval():
    row = CHECKS["number_needed_plain"]
    low, high = confint_proportions_2indep(
        row["x1"], row["n1"], row["x2"], row["n2"], compare="diff", method="newcomb"
    )
    found = number_needed(row["x1"] / row["n1"] - row["x2"] / row["n2"], low, high)
    assert found is not None
    assert found.number == pytest.approx(row["number"])
    assert [found.nearest, found.farthest] == pytest.approx(row["limits"], abs=5e-3)
    assert found.other is None
    assert number_needed(0.0, -0.1, 0.1) is None
    # What adding in another order leaves of no effect is none, not a number of nineteen digits.
    assert number_needed(3.8e-19, -0.1, 0.1) is None
    assert number_needed(9e-7, -0.1, 0.1) is None
    assert number_needed(2e-6, -0.1, 0.1) is not None
    zero = number_needed(0.1, 3.8e-19, 0.2)
    assert zero is not None
    assert (zero.farthest, zero.other) == (None, None)
    assert zero.words().endswith("through infinity")
    assert number_needed(0.1, -0.2, np.inf) is None
    assert number_needed(np.nan, np.nan, np.nan) is None


def test_regression_to_the_mean():
    row = CHECKS["regression_to_mean"]
    z = (row["mu"] - row["cut_below"]) / row["sd_total"]
    c = norm.pdf(z) / norm.sf(z)
    assert c == pytest.approx(row["c_z"], abs=1e-6)
    chosen = row["mu"] - row["sd_total"] * c
    for share, effect in row["effect"]:
        assert expected_change(row["mu"], chosen, share) == pytest.approx(effect, abs=5e-4)
    assert reliability(4.0, 1.0) == 0.75
    assert reliability(0.5, 1.0) == 0.0
    assert np.isnan(reliability(0.0, 1.0))
