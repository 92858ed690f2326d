"""Grouped logistic regression against statsmodels on single rows, and published litters."""

import tomllib
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from patsy import dmatrix
from scipy.linalg import block_diag

from pipeline.statistics.adjustment import affordable, factor_of
from pipeline.statistics.levels import TOGETHER, folded
from pipeline.statistics.logistic import fit_logistic, marginal_shares, wald_p_value
from pipeline.statistics.sandwich import cluster_covariance
from pipeline.statistics.spline import natural_spline, spline_basis, spline_knots

LITTERS = tomllib.loads((Path(__file__).parents[1] / "checks" / "models.toml").read_text())[
    "litters_model"
]


def litters():
    """Design, born, survived and litter of both groups."""
    n = np.array(LITTERS["born_control"] + LITTERS["born_treated"], dtype=float)
    y = np.array(LITTERS["survived_control"] + LITTERS["survived_treated"], dtype=float)
    design = np.column_stack([np.ones(32), np.repeat([0.0, 1.0], 16)])
    return design, n, y, np.arange(32)


def single_rows(design, n, y, cluster):
    """One row an observation."""
    size = n.astype(int)
    outcome = np.concatenate(
        [np.repeat([1.0, 0.0], [int(k), int(m - k)]) for k, m in zip(y, n, strict=True)]
    )
    return np.repeat(design, size, axis=0), outcome, np.repeat(cluster, size)


def made(seed=3, wearers=150):
    """Aids of wearers with a share of their own, as patterns."""
    draw = np.random.default_rng(seed)
    size = draw.integers(1, 5, wearers)
    cluster = np.repeat(np.arange(wearers), size)
    x = np.round(draw.uniform(0, 6, cluster.size), 1)
    group = draw.integers(0, 3, cluster.size)
    odds = 0.6 - 0.3 * x + 0.5 * (group == 1) + draw.normal(0, 1, wearers)[cluster]
    n = draw.integers(1, 4, cluster.size).astype(float)
    y = draw.binomial(n.astype(int), 1 / (1 + np.exp(-odds))).astype(float)
    knots = spline_knots(x, n)
    design = np.column_stack([np.ones(x.size), spline_basis(x, knots), group == 1, group == 2])
    return design.astype(float), n, y, cluster, knots


def test_litters_as_in_two_packages():
    design, n, y, litter = litters()
    fit = fit_logistic(design, n, y)
    assert fit.coefficients == pytest.approx(LITTERS["coefficients"], abs=5e-7)
    robust = np.sqrt(np.diag(cluster_covariance(fit, litter, power=0)))
    assert robust == pytest.approx(LITTERS["robust_se"], abs=5e-7)


def test_patterns_give_the_fit_of_single_rows():
    design, n, y, cluster, _ = made()
    fit = fit_logistic(design, n, y)
    rows, outcome, wearer = single_rows(design, n, y, cluster)
    reference = sm.GLM(outcome, rows, family=sm.families.Binomial()).fit(
        cov_type="cluster", cov_kwds={"groups": wearer}, tol=1e-12
    )
    assert fit.coefficients == pytest.approx(reference.params, abs=1e-8)
    # statsmodels multiplies by G/(G-1)·(N-1)/(N-p) instead.
    plain = cluster_covariance(fit, cluster, power=0) * 150 / 149 * (n.sum() - 1) / (n.sum() - 6)
    assert plain == pytest.approx(reference.cov_params(), rel=1e-6)
    restriction = np.eye(6)[1:4]
    wanted = reference.wald_test(restriction, use_f=False, scalar=True)
    columns = np.arange(1, 4)
    p_value = wald_p_value(fit.coefficients, plain, columns, 1e9)
    assert p_value == pytest.approx(float(wanted.pvalue), abs=1e-6)


def test_wearers_put_together_are_as_many_wearers():
    design, n, y, cluster, _ = made(wearers=40)
    copies = np.where(np.arange(40) < 7, 3.0, 1.0)
    apart = np.concatenate([np.flatnonzero(cluster == c) for c in range(40) for _ in
                            range(int(copies[c]))])  # fmt: skip
    names = np.concatenate([np.full((cluster == c).sum(), at) for at, c in enumerate(
        c for c in range(40) for _ in range(int(copies[c])))])  # fmt: skip
    long = fit_logistic(design[apart], n[apart], y[apart])
    short = fit_logistic(design, n * copies[cluster], y * copies[cluster])
    assert short.coefficients == pytest.approx(long.coefficients, abs=1e-8)
    assert cluster_covariance(short, cluster, copies) == pytest.approx(
        cluster_covariance(long, names), rel=1e-6
    )


def test_one_cluster_has_no_covariance():
    design, n, y, _ = litters()
    fit = fit_logistic(design, n, y)
    assert np.isnan(cluster_covariance(fit, np.zeros(32, dtype=int))).all()


def test_mancl_and_derouen_as_in_statsmodels():
    design, n, y, litter = litters()
    fit = fit_logistic(design, n, y)
    rows, outcome, names = single_rows(design, n, y, litter)
    reference = sm.GEE(outcome, rows, groups=names, family=sm.families.Binomial()).fit(
        cov_type="bias_reduced"
    )
    assert cluster_covariance(fit, litter, power=1) == pytest.approx(
        reference.cov_params(), rel=1e-5
    )


@pytest.mark.parametrize("power", [0.5, 1.0])
def test_bias_reduced_equals_the_full_matrices(power):
    design, n, y, cluster, _ = made(wearers=12)
    fit = fit_logistic(design, n, y)
    weight = n * fit.share * (1 - fit.share)
    half = np.sqrt(weight)[:, None] * design
    parts = []
    for at in range(12):
        own = half[cluster == at]
        values, vectors = np.linalg.eigh(np.eye(len(own)) - own @ fit.inverse_information @ own.T)
        parts.append(vectors @ np.diag(values**-power) @ vectors.T)
    residual = block_diag(*parts) @ ((y - n * fit.share) / np.sqrt(weight))
    scores = np.array([(half * residual[:, None])[cluster == at].sum(axis=0) for at in range(12)])
    wanted = fit.inverse_information @ scores.T @ scores @ fit.inverse_information
    assert cluster_covariance(fit, cluster, power=power) == pytest.approx(wanted, rel=1e-6)


def test_bias_reduction_widens():
    design, n, y, litter = litters()
    fit = fit_logistic(design, n, y)
    plain, half, whole = (
        cluster_covariance(fit, litter, power=power)[1, 1] for power in (0, 0.5, 1)
    )
    assert plain < half < whole


def test_marginal_shares_are_means_of_predictions_and_their_slopes():
    design, n, y, cluster, knots = made()
    fit = fit_logistic(design, n, y)
    covariance = cluster_covariance(fit, cluster)
    values = spline_basis(np.array([1.0, 3.0, 5.0]), knots)
    found = marginal_shares(fit, np.arange(1, 4), values, covariance, 150)
    rows, _, _ = single_rows(design, n, y, cluster)

    def mean_share(beta, value):
        changed = rows.copy()
        changed[:, 1:4] = value
        return float(np.mean(1 / (1 + np.exp(-changed @ beta))))

    assert found.share == pytest.approx([mean_share(fit.coefficients, v) for v in values])
    step = 1e-5
    slopes = np.array([
        [(mean_share(fit.coefficients + step * e, v) - mean_share(fit.coefficients - step * e, v))
         / (2 * step) for e in np.eye(6)] for v in values
    ])  # fmt: skip
    error = np.sqrt(np.einsum("ip,pq,iq->i", slopes, covariance, slopes))
    scaled = error / (found.share * (1 - found.share))
    width = np.log(found.high / (1 - found.high)) - np.log(found.low / (1 - found.low))
    assert width == pytest.approx(2 * 1.9760 * scaled, rel=1e-4)
    assert found.difference[0] == found.difference_low[0] == 0
    assert (found.low < found.share).all()
    assert (found.share < found.high).all()


def test_a_spline_through_a_line_is_the_line():
    x = np.linspace(0, 8, 30)
    knots = np.array([0.0, 2.0, 5.0, 8.0])
    assert spline_basis(x, knots) @ knots[1:] == pytest.approx(x)
    assert natural_spline(x, knots) @ knots == pytest.approx(x)
    assert natural_spline(x, knots[[0, 3]]) @ knots[[0, 3]] == pytest.approx(x)


def test_a_natural_spline_spans_what_patsy_spans():
    """patsy's natural cubic regression spline (Wood 2006), another set of columns."""
    x, knots = np.linspace(0, 8, 60), np.array([0.0, 2.0, 5.0, 8.0])
    theirs = dmatrix(
        "cr(x, knots=[2, 5], lower_bound=0, upper_bound=8) - 1", {"x": x}, return_type="matrix"
    )
    ours = natural_spline(x, knots)
    assert np.asarray(theirs) == pytest.approx(ours, abs=1e-9)


def test_a_covariate_that_tells_the_outcome_has_no_fit():
    n, y = np.full(8, 5.0), np.repeat([0.0, 5.0], 4)
    assert fit_logistic(np.column_stack([np.ones(8), y > 0]), n, y) is None
    assert fit_logistic(np.ones((8, 2)), n, np.full(8, 2.0)) is None


def test_rare_levels_stand_together_or_join_the_reference():
    frame = pl.DataFrame({"style": ["ric", "bte", "cic", "iic"], "n": [200, 90, 18, 15],
                          "y": [90, 40, 9, 7]})  # fmt: skip
    factor = factor_of(frame, "style", "n", "y")
    assert factor.levels == ("ric", "bte", "few_others")
    assert factor.code.tolist() == [0, 1, 2, 2]
    alone = factor_of(frame.head(3), "style", "n", "y")
    assert alone.levels == ("ric", "bte")
    assert alone.code.tolist() == [0, 1, 0]


def test_the_reference_is_a_level_with_events_enough():
    # The most frequent word has 9 events: with the other rare word it stands apart.
    n, events = np.array([400.0, 90, 80, 60]), np.array([9.0, 40, 30, 5])
    assert [found.tolist() for found in folded(n, events)] == [[2, 0, 1, 2], [1, 2, TOGETHER]]
    # With one event more it is the reference, and the rare one joins it.
    level, names = folded(n, events + np.array([1.0, 0, 0, 0]))
    assert (level.tolist(), names.tolist()) == ([0, 1, 2, 0], [0, 1, 2])


def test_words_of_which_each_is_rare_are_one_level():
    level, names = folded(np.array([20.0, 30, 25]), np.array([6.0, 7, 8]))
    assert (level.tolist(), names.tolist()) == ([0, 0, 0], [1])


def test_factors_are_dropped_until_events_suffice():
    frame = pl.DataFrame({"style": ["ric", "bte"] * 2, "season": ["wet", "wet", "dry", "dry"],
                          "n": [100] * 4, "y": [50] * 4})  # fmt: skip
    factors = [factor_of(frame, name, "n", "y") for name in ("style", "season")]
    for fewer, kept in ((60, ["style", "season"]), (50, ["style"]), (40, []), (39, None)):
        found = affordable(factors, 4, fewer, ("season", "style"))
        assert (found if found is None else [factor.name for factor in found]) == kept
