"""Logistic regression on counted patterns.

Rows that share every covariate are one pattern with n observations and y events. A pattern may
stand in several clusters; `sandwich` sums scores per cluster, so that the covariance equals that
of a fit to single observations.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from pipeline.statistics.groups import Codes
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import f, t
from pipeline.statistics.newton import fit_grouped

LARGEST_LOG_ODDS = 12.0


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
