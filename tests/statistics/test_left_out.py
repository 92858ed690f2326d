"""Fits that leave out one site each, against statsmodels on the others' single aids."""

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.statistics.left_out import by_site, fits_without_each

PATTERNS = np.array([[1, a, b, c] for a in (0, 1) for b in (0, 1) for c in (0, 1)], dtype=float)


def drawn(sites: int, size: int, effect: float = 0.3) -> tuple[np.ndarray, ...]:
    """Aids and events by site and pattern; the first site's aids are `effect` apart."""
    rng = np.random.default_rng(sites)
    n = rng.integers(size // 2, size, (sites, len(PATTERNS))).astype(float)
    odds = PATTERNS @ [0.4, -0.7, 0.5, 0.1] + effect * (np.arange(sites) == 0)[:, None]
    return n, rng.binomial(n.astype(int), 1 / (1 + np.exp(-odds))).astype(float)


def left_out(n: np.ndarray, events: np.ndarray, design: np.ndarray = PATTERNS):
    at = np.nonzero(n)
    own = (by_site(values[at], at, n.shape) for values in (n, events))
    pooled = fitted(n.sum(axis=0), events.sum(axis=0)).params
    start = np.r_[pooled, np.zeros(design.shape[1] - pooled.size)]
    return fits_without_each(design, n.sum(axis=0), events.sum(axis=0), *own, start)


def fitted(n: np.ndarray, events: np.ndarray):
    grouped = np.column_stack([events, n - events])
    return sm.GLM(grouped, PATTERNS, family=sm.families.Binomial()).fit(tol=1e-14)


@pytest.mark.parametrize(("sites", "size", "effect"), [(60, 40, 0.3), (5, 200, 2.0)])
def test_each_fit_is_that_of_the_other_sites(sites, size, effect):
    n, events = drawn(sites, size, effect)
    found = left_out(n, events)
    assert found.is_fit.all()
    for site in (0, 1, sites - 1):
        others = np.arange(sites) != site
        fit = fitted(n[others].sum(axis=0), events[others].sum(axis=0))
        assert found.coefficients[site] == pytest.approx(fit.params, abs=1e-10)
        assert found.covariance[site] == pytest.approx(fit.cov_params(), rel=1e-8)


def test_a_fit_that_does_not_come_to_rest_is_told():
    # Nine in ten aids stand at a site whose aids are apart: the pooled curvature is no help.
    n, events = drawn(2, 300, 1.0)
    n[0], events[0] = 9 * n[0], 9 * events[0]
    assert left_out(n, events).is_fit.tolist() == [False, True]


def test_columns_that_others_do_not_determine_are_told():
    n, events = drawn(12, 40)
    n[1:, 4:], events[1:, 4:] = 0, 0  # the second column stands at the first site alone
    assert left_out(n, events).is_fit.tolist() == [False] + [True] * 11
    twice = np.column_stack([PATTERNS, PATTERNS[:, 1]])
    assert not left_out(*drawn(12, 40), twice).is_fit.any()


def test_many_patterns_are_taken_in_parts(monkeypatch):
    n, events = drawn(9, 40)
    whole = left_out(n, events)
    monkeypatch.setattr("pipeline.statistics.left_out.PATTERNS_AT_ONCE", 3)
    monkeypatch.setattr("pipeline.statistics.left_out.MOST_AT_ONCE", 16)
    parts = left_out(n, events)
    assert parts.coefficients == pytest.approx(whole.coefficients, abs=1e-10)
    assert parts.covariance == pytest.approx(whole.covariance, rel=1e-10)
