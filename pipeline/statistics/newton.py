"""Logistic regression on grouped counts: one row per pattern of yes/no covariates."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, xlog1py, xlogy

from pipeline.statistics.intervals import Floats

Words = NDArray[np.int64]
MOST_STEPS = 50
MOST_HALVINGS = 12
SMALLEST_GAIN = 1e-10
FLAT = 1e-9


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

    Newton's method; a step that lowers the likelihood is halved. No penalty: where columns do not
    determine the coefficients (collinear, or without observations) the shortest solution is
    taken, and every prediction that the observations determine is that of the likelihood.

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
    beta, at = start, _likelihood(x, n, events, start)
    is_converged = False
    for _ in range(MOST_STEPS):
        fitted = expit(x @ beta)
        inverse = np.linalg.pinv(_information(x, n, fitted), rcond=FLAT, hermitian=True)
        step = inverse @ (x.T @ (events - n * fitted))
        for _ in range(MOST_HALVINGS):
            reached = _likelihood(x, n, events, beta + step)
            if reached >= at - SMALLEST_GAIN * (1 + abs(at)):
                break
            step = step / 2
        gain, beta, at = reached - at, beta + step, reached
        if abs(gain) <= SMALLEST_GAIN * (1 + abs(at)):
            is_converged = bool(np.abs(step).max() < 1e-3)
            break
    fitted = expit(x @ beta)
    information = _information(x, n, fitted)
    covariance = np.asarray(np.linalg.pinv(information, rcond=FLAT, hermitian=True), dtype=float)
    rank = int(np.linalg.matrix_rank(information, tol=FLAT, hermitian=True))
    return GroupedFit(beta, covariance, rank, is_converged)


def separated(design: Floats, n: Floats, events: Floats) -> NDArray[np.bool_]:
    """Tell for each column of 0 and 1 whether it holds no event or no other observation.

    The likelihood has no largest value in such a column: its coefficient runs to infinity while
    the variance of what it predicts falls to 0, so that one lucky aid would seem to be certain.
    """
    held, happened = design.T @ n, design.T @ events
    return np.asarray((happened <= 0) | (held - happened <= 0))


def _information(x: Floats, n: Floats, fitted: Floats) -> Floats:
    root = np.sqrt(n * fitted * (1 - fitted))[:, None] * x
    return np.asarray(root.T @ root)


def _likelihood(x: Floats, n: Floats, events: Floats, beta: Floats) -> float:
    fitted = expit(np.clip(x @ beta, -35, 35))
    return float(np.sum(xlogy(events, fitted) + xlog1py(n - events, -fitted)))
