"""Variance between trials, as published, and what winsorising changes."""

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from pipeline.statistics.overdispersion import (
    homogeneity_p,
    mean_square,
    variance_between,
    winsorised,
)
from tests.statistics.comparison_checks import CHECKS


def trials():
    given = CHECKS["trials"]
    a, b, c, d = (
        np.array(given[name], dtype=float)
        for name in ("treated_pos", "treated_neg", "control_pos", "control_neg")
    )
    effect = np.log(a / (a + b)) - np.log(c / (c + d))
    variance = 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)
    centre = np.sum(effect / variance) / np.sum(1 / variance)
    return given, effect, variance, (effect - centre) / np.sqrt(variance)


def test_phi_and_tau2_of_the_trials():
    given, effect, variance, z = trials()
    assert np.sum(z**2) == pytest.approx(given["q"], abs=5e-4)
    assert mean_square(z) == pytest.approx(given["phi"], abs=5e-5)
    assert mean_square(winsorised(z)) == pytest.approx(given["phi_winsorised"], abs=5e-5)
    tau2 = variance_between(mean_square(z), variance)
    assert tau2 == pytest.approx(given["tau2"], abs=5e-6)
    library = combine_effects(effect, variance, method_re="dl")
    assert tau2 == pytest.approx(library.tau2)


def test_pooled_and_drawn_in_effects_follow_from_tau2():
    given, effect, variance, z = trials()
    tau2 = variance_between(mean_square(z), variance)
    weight = 1 / (variance + tau2)
    pooled = np.sum(weight * effect) / weight.sum()
    assert pooled == pytest.approx(given["pooled"], abs=1e-6)
    drawn = (tau2 * effect + variance * pooled) / (tau2 + variance)
    assert drawn == pytest.approx(given["empirical_bayes"], abs=6e-5)


def test_no_variance_is_left_over_where_sites_are_alike():
    assert variance_between(0.6, [1.0, 2.0, 3.0]) == 0
    assert variance_between(5.0, [1.0]) == 0


def test_one_far_site_is_drawn_in():
    z = np.append(np.linspace(-1.5, 1.5, 11), -9.0)
    assert winsorised(z).min() > -2
    assert mean_square(winsorised(z)) < 1.2 < mean_square(z)


def test_p_of_equal_sites_is_uniform():
    rng = np.random.default_rng(1)
    draws = rng.normal(size=(2000, 9))
    others = (draws.sum(axis=1, keepdims=True) - draws) / 8
    z = (draws - others) / np.sqrt(1 + 1 / 8)
    p = np.array([homogeneity_p(row) for row in z])
    assert np.quantile(p, [0.05, 0.5, 0.95]) == pytest.approx([0.05, 0.5, 0.95], abs=0.03)
    assert np.isnan(homogeneity_p([1.0]))
