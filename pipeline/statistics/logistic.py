"""Logistic regression on counted patterns, with errors by cluster.

Rows that share every covariate are one pattern with n observations and y events. A pattern may
stand in several clusters; scores are summed per cluster, so that the covariance equals that of a
fit to single observations.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.sparse import csr_array
from scipy.special import expit
from scipy.stats import f, t

from pipeline.statistics.intervals import Floats
from pipeline.statistics.newton import fit_grouped

Codes = NDArray[np.int64]

LARGEST_LOG_ODDS = 12.0
SINGULAR = 1e-8
# Up to this leverage so many terms of the series are exact to 1e-9.
MOST_BY_SERIES = 0.1
TERMS = 8


@dataclass(frozen=True)
class Fit:
    """A grouped logistic fit.

    Fields: coefficients (p), share (fitted probability of each row), inverse_information (p, p),
    rows that it was fitted on: design (rows, p), n and y.
    """

    coefficients: Floats
    share: Floats
    inverse_information: Floats
    design: Floats
    n: Floats
    y: Floats

    @property
    def scores(self) -> Floats:
        """Return each row's contribution to the score, (rows, p)."""
        residual = self.y - self.n * self.share
        return np.asarray(residual[:, None] * self.design)


def fit_logistic(design: Floats, n: Floats, y: Floats) -> Fit | None:
    """Fit log-odds of y out of n by maximum likelihood.

    Args:
        design: (rows, p), the intercept among its columns.
        n: observations of each row, above 0.
        y: events of each row, 0 to n.

    Returns:
        The fit, or None where the likelihood has no maximum (a covariate tells the outcome
        outright), where columns depend on each other, or without rows.
    """
    if design.shape[0] == 0 or np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    found = fit_grouped(design, n, y)
    beta = found.coefficients
    if not found.is_converged or np.abs(beta).max() > LARGEST_LOG_ODDS:
        return None
    return Fit(beta, expit(design @ beta), found.covariance, design, n, y)


def cluster_covariance(
    fit: Fit, cluster: Codes, copies: Floats | None = None, power: float = 0.5
) -> Floats:
    """Return the covariance of the coefficients by cluster, bias-reduced (sandwich).

    Each cluster's score is multiplied by (I - H)^-power, H its leverage. With M the inverse
    information and B the cluster's own information, U'(I - UU')^-power = (I - U'U)^-power U', so
    only the small matrix M^½ B M^½ is needed. A direction that one cluster alone determines is
    left out (generalised inverse).

    Args:
        fit: the fit, whose rows belong to one cluster each.
        cluster: number of each row's cluster, 0 upwards without gaps.
        copies: for each cluster, how many clusters of exactly these rows there are, where rows
            were put together (then n and y of the fit count them all); None: one each.
        power: 0.5 for CR2 (Bell and McCaffrey 2002, Survey Methodology 28:169-181), 1 for Mancl
            and DeRouen 2001, Biometrics 57:126-134, 0 for none.

    Returns:
        (p, p); nan with fewer than two clusters.
    """
    groups = int(cluster.max()) + 1 if cluster.size else 0
    times = np.ones(groups) if copies is None else copies
    p = fit.coefficients.size
    if times.sum() < 2:
        return np.full((p, p), np.nan)
    values, vectors = np.linalg.eigh(fit.inverse_information)
    root = vectors @ np.diag(np.sqrt(np.maximum(values, 0))) @ vectors.T
    half = np.sqrt(fit.n * fit.share * (1 - fit.share))[:, None] * (fit.design @ root)
    score = _summed(fit.scores @ root, cluster, groups) / times[:, None]
    leverage = _summed((half**2).sum(axis=1)[:, None], cluster, groups)[:, 0] / times
    own = _by_series(half, cluster, times, score, power)
    for at in np.flatnonzero(leverage > MOST_BY_SERIES):
        rows = half[cluster == at]
        shares, axes = np.linalg.eigh(rows.T @ rows / times[at])
        rest = 1 - shares
        scale = np.where(rest > SINGULAR, np.maximum(rest, SINGULAR) ** -power, 0.0)
        own[at] = axes @ (scale * (axes.T @ score[at]))
    return np.asarray(root @ (own.T @ (times[:, None] * own)) @ root)


def _by_series(half: Floats, cluster: Codes, times: Floats, score: Floats, power: float) -> Floats:
    """Return (I - H)^-power·score of every cluster as a power series, for small leverages H."""
    term, total = score, score.copy()
    for step in range(TERMS):
        along = (half * term[cluster]).sum(axis=1)[:, None] * half
        term = (power + step) / (step + 1) * _summed(along, cluster, times.size) / times[:, None]
        total += term
    return total


def wald_p_value(
    coefficients: Floats, covariance: Floats, columns: Codes, clusters: float
) -> float:
    """Return the p-value that the coefficients of these columns are all 0: F on clusters - 1."""
    chosen, wanted = coefficients[columns], covariance[np.ix_(columns, columns)]
    statistic = float(chosen @ np.linalg.solve(wanted, chosen)) / columns.size
    return float(f.sf(statistic, columns.size, clusters - 1))


@dataclass(frozen=True)
class Marginal:
    """Shares averaged over the observed mix at each value of one covariate, with limits.

    Fields, one element per value: share, low, high (0-1, symmetric on log-odds), difference from
    the first value with difference_low and difference_high (-1 to 1).
    """

    share: Floats
    low: Floats
    high: Floats
    difference: Floats
    difference_low: Floats
    difference_high: Floats


def marginal_shares(
    fit: Fit,
    columns: Codes,
    values: Floats,
    covariance: Floats,
    clusters: float,
    level: float = 0.95,
) -> Marginal:
    """Average the predicted share over all observations, at each value of one covariate.

    Args:
        fit: the fit; its n are the weights of the rows.
        columns: the design's columns that hold the covariate.
        values: (values, columns), what these columns hold at each value.
        covariance: of the coefficients.
        clusters: t has one degree of freedom less.
        level: confidence level.

    Source: delta method, as in Graubard and Korn 1999, Biometrics 55:652-659.
    """
    weight = fit.n / fit.n.sum()
    own = fit.design[:, columns] @ fit.coefficients[columns]
    others = fit.design @ fit.coefficients - own
    shares, slopes = [], []
    for value in values:
        p = 1 / (1 + np.exp(-(others + value @ fit.coefficients[columns])))
        shares.append(float(weight @ p))
        slope_of = weight * p * (1 - p)
        row = slope_of @ fit.design
        row[columns] = slope_of.sum() * value
        slopes.append(row)
    share, slope = np.array(shares), np.array(slopes)
    quantile = float(t.ppf(0.5 + level / 2, clusters - 1))
    error = np.sqrt(np.einsum("ip,pq,iq->i", slope, covariance, slope))
    centre, spread = np.log(share / (1 - share)), quantile * error / (share * (1 - share))
    apart = slope - slope[0]
    gap = quantile * np.sqrt(np.maximum(np.einsum("ip,pq,iq->i", apart, covariance, apart), 0.0))
    difference = share - share[0]
    return Marginal(
        share, 1 / (1 + np.exp(spread - centre)), 1 / (1 + np.exp(-spread - centre)),
        difference, difference - gap, difference + gap,
    )  # fmt: skip


def spline_basis(x: Floats, knots: Floats) -> Floats:
    """Return the natural cubic spline's basis without its constant, (rows, knots - 1).

    Column j is the spline that is 1 at knot j + 1 and 0 at the others; with an intercept they
    span the natural cubic splines with these knots, whose outer two should be the ends of the
    data. Two knots give a straight line.
    """
    basis = CubicSpline(knots, np.eye(knots.size), bc_type="natural")(x)
    return np.asarray(basis[:, 1:], dtype=float)


def spline_knots(x: Floats, n: Floats, inner: int = 2) -> Floats:
    """Return the ends of x and evenly spaced quantiles between, each x weighted by its n."""
    order = np.argsort(x, kind="stable")
    reached = np.cumsum(n[order]) / n.sum()
    wanted = np.arange(1, inner + 1) / (inner + 1)
    between = x[order][np.searchsorted(reached, wanted)]
    return np.unique(np.concatenate([[x.min()], between, [x.max()]]))


def _summed(values: Floats, code: Codes, groups: int) -> Floats:
    rows = np.arange(code.size)
    chosen = csr_array((np.ones(code.size), (code, rows)), shape=(groups, code.size))
    return np.asarray(chosen @ values)
