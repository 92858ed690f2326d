"""Logistic regression on grouped counts: one row per pattern of yes/no covariates."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit, xlog1py, xlogy

from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats

MOST_STEPS = 50
MOST_HALVINGS = 12
SMALLEST_GAIN = 1e-10
FLAT = 1e-9
SMALL_STEP = 1e-3


@dataclass(frozen=True)
class GroupedFit:
    """A fit by maximum likelihood.

    Fields: coefficients (k, log odds), covariance (k by k), parameters (rank of the design among
    the patterns with observations), is_converged.
    """

    coefficients: Floats
    covariance: Floats
    parameters: int
    is_converged: bool


def fit_grouped(
    design: Floats, n: Floats, events: Floats, start: Floats | None = None
) -> GroupedFit:
    """Fit log odds = design @ coefficients to events out of n in each pattern.

    No penalty: where columns do not determine the coefficients (collinear, or without
    observations) the shortest solution is taken, and every prediction that the observations
    determine is that of the likelihood.

    Args:
        design: patterns by k columns, the first of them the constant 1.
        n: observations of each pattern, 0 or more, above 0 in at least one.
        events: events of each pattern, 0 to n.
        start: coefficients to start from, such as those of a nearby fit.

    Returns:
        The fit. Where a column holds events or non-events only, its coefficient runs away and
        `is_converged` may be False: fold such columns beforehand (`separated`).

    Source: McCullagh and Nelder 1989, Generalized Linear Models, chapter 4. Counts by pattern give
    the same likelihood, up to a constant, as one row an observation.
    """
    some = n > 0
    x, n, events = design[some], n[some], events[some]
    if start is None:
        start = np.zeros(x.shape[1])
        start[0] = logit(np.clip(events.sum() / n.sum(), 1e-6, 1 - 1e-6))
    found, is_converged = fit_tables(x, n[None], events[None], start)
    beta = found[0]
    information = _information(x, n, expit(x @ beta))
    covariance, is_whole = _inverse(information)
    rank = beta.size
    if not is_whole:
        rank = int(np.linalg.matrix_rank(information, tol=FLAT, hermitian=True))
    return GroupedFit(beta, covariance, rank, bool(is_converged[0]))


def fit_tables(
    design: Floats, n: Floats, events: Floats, start: Floats, ridge: float = 0.0
) -> tuple[Floats, Flags]:
    """Fit many tables of the same patterns by Newton's method, all at once.

    A step that lowers a table's likelihood is halved.

    Args:
        design: (patterns, k).
        n, events: (tables, patterns).
        start: (k,), or (tables, k).
        ridge: the likelihood is lowered by ridge/2·Σ coefficients², so that tables in which
            nothing happens, or always, have a fit too.

    Returns:
        Coefficients (tables, k), and which tables came to rest.
    """
    beta = np.array(np.broadcast_to(start, (n.shape[0], design.shape[1])))
    at = _likelihood(design, n, events, beta, ridge)
    is_converged = np.zeros(n.shape[0], dtype=bool)
    for _ in range(MOST_STEPS):
        fitted = expit(beta @ design.T)
        slope = (events - n * fitted) @ design - ridge * beta
        curvature = _information(design, n, fitted) + ridge * np.eye(design.shape[1])
        step = (_inverse(curvature)[0] @ slope[..., None])[..., 0]
        for _ in range(MOST_HALVINGS):
            reached = _likelihood(design, n, events, beta + step, ridge)
            is_lower = reached < at - SMALLEST_GAIN * (1 + np.abs(at))
            if not is_lower.any():
                break
            step = np.where(is_lower[:, None], step / 2, step)
        gain, beta, at = np.abs(reached - at), beta + step, reached
        is_still = gain <= SMALLEST_GAIN * (1 + np.abs(at))
        is_converged = is_still & (np.abs(step).max(axis=1) < SMALL_STEP)
        if is_still.all():
            break
    return beta, is_converged


def separated(design: Floats, n: Floats, events: Floats) -> Flags:
    """Tell for each column of 0 and 1 whether it holds no event or no other observation.

    The likelihood has no largest value in such a column: its coefficient runs to infinity while
    the variance of what it predicts falls to 0, so that one lucky aid would seem to be certain.
    """
    held, happened = design.T @ n, design.T @ events
    return np.asarray((happened <= 0) | (held - happened <= 0))


def _information(x: Floats, n: Floats, fitted: Floats) -> Floats:
    return np.asarray(x.T @ ((n * fitted * (1 - fitted))[..., None] * x))


def inverses(curvature: Floats) -> tuple[Floats, Flags]:
    """Return the inverse of each positive matrix (…, k, k), and which of them are of full rank.

    For the eigenvalues v of a positive matrix A, largest v ≤ tr A and smallest v ≥ 1/tr A⁻¹: where
    these bounds lie within FLAT the generalised inverse, which drops directions with a smaller
    eigenvalue, is the plain one, and one factorisation stands for an eigendecomposition. The
    inverse of a matrix of lower rank is not to be read.
    """
    try:
        plain = np.linalg.inv(curvature)
    except np.linalg.LinAlgError:
        each = curvature.reshape(-1, *curvature.shape[-2:])
        plain = np.reshape([_inverse_or_nan(one) for one in each], curvature.shape)
    largest, over_smallest = (np.trace(one, axis1=-2, axis2=-1) for one in (curvature, plain))
    with np.errstate(invalid="ignore", over="ignore"):
        is_whole = (over_smallest > 0) & (largest * over_smallest < 1 / FLAT)
        is_whole &= over_smallest < 1 / FLAT
    return np.asarray((plain + np.swapaxes(plain, -2, -1)) / 2), np.asarray(is_whole)


def _inverse_or_nan(matrix: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.inv(matrix))
    except np.linalg.LinAlgError:
        return np.full_like(matrix, np.nan)


def _inverse(curvature: Floats) -> tuple[Floats, bool]:
    """Return the generalised inverse of each matrix, and whether all of them are of full rank."""
    plain, is_whole = inverses(curvature)
    if np.all(is_whole):
        return plain, True
    return np.asarray(np.linalg.pinv(curvature, rcond=FLAT, hermitian=True)), False


def _likelihood(x: Floats, n: Floats, events: Floats, beta: Floats, ridge: float) -> Floats:
    fitted = expit(np.clip(beta @ x.T, -35, 35))
    told = np.sum(xlogy(events, fitted) + xlog1py(n - events, -fitted), axis=-1)
    return np.asarray(told - ridge / 2 * np.sum(beta**2, axis=-1))
