"""Wilson's limits against published tables."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from pipeline.statistics.intervals import wilson

CHECKS = tomllib.loads(
    (Path(__file__).parents[1] / "checks" / "statistics.toml").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("row", CHECKS["wilson"])
def test_limits_are_those_of_newcombes_table(row):
    limits = wilson(row["k"], row["n"])
    assert limits == pytest.approx(row["limits"], abs=5e-5)


def test_ninety_percent_limits_of_four_defectives_in_twenty():
    # NIST/SEMATECH e-Handbook 7.2.4.2 gives the data; limits from statsmodels' "wilson".
    assert wilson(4, 20, level=0.9) == pytest.approx((0.093118, 0.378377), abs=5e-7)


def test_the_ends_are_exact():
    n = np.arange(1, 3000)
    assert (wilson(0, n)[0] == 0).all()
    assert (wilson(n, n)[1] == 1).all()


def test_nothing_observed_is_no_estimate():
    low, high = wilson([0, 1], [0, np.nan])
    assert np.isnan(low).all()
    assert np.isnan(high).all()


@given(n=st.integers(1, 5000), share=st.floats(0, 1), level=st.floats(0.5, 0.999))
def test_limits_equal_scipy(n, share, level):
    k = round(n * share)
    found = binomtest(k, n).proportion_ci(level, "wilson")
    assert wilson(k, n, level) == pytest.approx((found.low, found.high), abs=1e-9)


@pytest.mark.parametrize("row", CHECKS["coverage"])
def test_coverage_by_exact_summation(row):
    k = np.arange(row["n"] + 1)
    low, high = wilson(k, row["n"])
    covers = (low <= row["p"]) & (row["p"] <= high)
    coverage = binom.pmf(k, row["n"], row["p"])[covers].sum()
    assert coverage == pytest.approx(row["wilson"], abs=5e-4)
