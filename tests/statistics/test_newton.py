"""The grouped fit against statsmodels' on single observations, and where it has no maximum."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import minimize

from pipeline.statistics import newton
from pipeline.statistics.newton import FLAT, fit_grouped, fit_tables, separated


def observations(seed=1, size=900):
    rng = np.random.default_rng(seed)
    levels = np.column_stack([rng.integers(0, 3, size), rng.integers(0, 4, size)])
    x = np.column_stack([np.ones(size)] + [levels[:, 0] == 1, levels[:, 0] == 2]
                        + [levels[:, 1] == k for k in (1, 2, 3)]).astype(float)  # fmt: skip
    y = (rng.random(size) < 1 / (1 + np.exp(-(x @ [0.4, -1, 0.6, 0.2, -0.5, 0.3])))).astype(float)
    return x, y


def grouped(x, y):
    patterns, at = np.unique(x, axis=0, return_inverse=True)
    at = at.ravel()
    return patterns, np.bincount(at).astype(float), np.bincount(at, y)


def test_coefficients_and_errors_are_those_of_single_observations():
    x, y = observations()
    expected = sm.GLM(y, x, family=sm.families.Binomial()).fit(tol=1e-12)
    fit = fit_grouped(*grouped(x, y))
    assert fit.is_converged
    assert fit.parameters == 6
    assert fit.coefficients == pytest.approx(expected.params, abs=1e-7)
    assert fit.covariance == pytest.approx(expected.cov_params(), rel=1e-5, abs=1e-9)


def test_a_start_far_off_comes_to_the_same_place():
    design, n, events = grouped(*observations())
    near = fit_grouped(design, n, events)
    far = fit_grouped(design, n, events, np.array([4.0, -6, 5, 3, -4, 6]))
    assert far.coefficients == pytest.approx(near.coefficients, abs=1e-6)


def test_collinear_columns_predict_as_without_the_spare_one():
    design, n, events = grouped(*observations())
    spare = np.column_stack([design, design[:, 1] + design[:, 2]])
    fit, plain = fit_grouped(spare, n, events), fit_grouped(design, n, events)
    assert fit.parameters == plain.parameters
    assert spare @ fit.coefficients == pytest.approx(design @ plain.coefficients, abs=1e-6)
    variance = np.einsum("ip,pq,iq->i", spare, fit.covariance, spare)
    expected = np.einsum("ip,pq,iq->i", design, plain.covariance, design)
    assert variance == pytest.approx(expected, rel=1e-5)


def test_patterns_without_observations_change_nothing():
    design, n, events = grouped(*observations())
    more = fit_grouped(np.vstack([design, design]), np.append(n, 0 * n), np.append(events, 0 * n))
    assert more.coefficients == pytest.approx(fit_grouped(design, n, events).coefficients)


def test_a_column_of_events_only_is_told():
    design, n, events = grouped(*observations())
    sure = design[:, 2] == 1
    events = np.where(sure, n, events)
    assert separated(design, n, events).tolist() == [False, False, True, False, False, False]
    # Left in, its coefficient runs away; the other predictions stay finite.
    fit = fit_grouped(design, n, events)
    assert fit.coefficients[2] > 8
    assert np.isfinite(fit.coefficients).all()


def test_many_tables_are_fitted_as_each_alone_with_a_penalty_too():
    design, n, events = grouped(*observations())
    rng = np.random.default_rng(4)
    sizes = rng.poisson(n, (7, n.size)).astype(float)
    happened = rng.binomial(sizes.astype(int), 0.4).astype(float)
    found, is_converged = fit_tables(design, sizes, happened, np.zeros(6))
    assert is_converged.all()
    for table in range(7):
        alone = fit_grouped(design, sizes[table], happened[table])
        assert found[table] == pytest.approx(alone.coefficients, abs=1e-8)
    # Where nothing happens the penalty alone gives a fit: the largest of the lowered likelihood.
    ridge = 0.01
    none, is_converged = fit_tables(design, n[None], 0 * events[None], np.zeros(6), ridge)
    assert is_converged.all()
    wanted = minimize(
        lambda b: n @ np.logaddexp(0, design @ b) + ridge / 2 * b @ b, np.zeros(6), method="BFGS",
        options={"gtol": 1e-9},
    )  # fmt: skip
    assert none[0] == pytest.approx(wanted.x, abs=1e-4)


@pytest.mark.parametrize(
    ("smallest", "is_whole"),
    [(3 * FLAT, True), (1.01 * FLAT, False), (0.5 * FLAT, False), (0, False)],
)
def test_one_factorisation_stands_for_the_generalised_inverse(smallest, is_whole):
    """By bounds of the eigenvalues: near the limit the eigenvalues themselves decide."""
    axes = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
    matrix = axes @ np.diag([smallest, 0.3, 1]) @ axes.T
    matrix = (matrix + matrix.T) / 2
    found, told = newton._inverse(np.stack([matrix, np.eye(3)]))
    expected = np.linalg.pinv(matrix, rcond=FLAT, hermitian=True)
    assert told == is_whole
    assert found[0] == pytest.approx(expected, rel=1e-6, abs=1e-12)
    assert found[1] == pytest.approx(np.eye(3), abs=1e-12)


def test_coefficients_on_very_different_scales_are_all_kept():
    """Ten million aids and one: the information's eigenvalues are far apart, none is flat."""
    design = np.array([[1.0, 0], [1, 1]])
    n, events = np.array([1e7, 4]), np.array([3e6, 1])
    fit = fit_grouped(design, n, events)
    odds = np.log([3 / 7, 1 / 3])
    assert fit.parameters == 2
    assert fit.coefficients == pytest.approx([odds[0], odds[1] - odds[0]], abs=1e-3)
    # The likelihood of ten million is flat where that of four is not yet: .001 of its error.
    assert fit.covariance[1, 1] == pytest.approx(1 / 1 + 1 / 3 + 1 / 3e6 + 1 / 7e6, rel=1e-3)
