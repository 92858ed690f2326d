"""Covariance of coefficients where rows come in clusters: bias-reduced sandwiches."""

import numpy as np
from scipy.sparse import coo_array

from pipeline.statistics.groups import Codes, summed
from pipeline.statistics.intervals import Floats
from pipeline.statistics.logistic import Fit

SINGULAR = 1e-8
# Up to this leverage so many terms of the series are exact to 1e-12.
MOST_BY_SERIES = 0.1
TERMS = 11


def unshrunk(hat: Floats, values: Floats, power: float) -> Floats:
    """Return (I - H)^-power·values of every cluster.

    A direction that the cluster alone determines (an eigenvalue 1 of H) is left out, as in the
    generalised inverse.

    Args:
        hat: (…, k, k), the cluster's share of the hat matrix, symmetric, eigenvalues 0 to 1.
        values: (…, k).
        power: 0.5 for CR2, 1 for Mancl and DeRouen, 0 for none.
    """
    out = values.copy()
    is_small = np.trace(hat, axis1=-2, axis2=-1) <= MOST_BY_SERIES
    few, term = hat[is_small], values[is_small]
    for step in range(TERMS):
        term = (power + step) / (step + 1) * (few @ term[..., None])[..., 0]
        out[is_small] += term
    shares, axes = np.linalg.eigh(hat[~is_small])
    rest = 1 - shares
    scale = np.where(rest > SINGULAR, np.maximum(rest, SINGULAR) ** -power, 0.0)
    along = np.einsum("...ji,...j->...i", axes, values[~is_small])
    out[~is_small] = np.einsum("...ij,...j->...i", axes, scale * along)
    return np.asarray(out)


def cluster_covariance(
    fit: Fit, cluster: Codes, copies: Floats | None = None, power: float = 0.5
) -> Floats:
    """Return the covariance of a logistic fit's coefficients by cluster, bias-reduced.

    Each cluster's score is multiplied by (I - H)^-power, H its leverage. With M the inverse
    information and B the cluster's own information, U'(I - UU')^-power = (I - U'U)^-power U', so
    only the small matrix M^½ B M^½ is needed.

    Args:
        fit: the fit, whose rows belong to one cluster each.
        cluster: number of each row's cluster, 0 upwards without gaps.
        copies: for each cluster, how many clusters of exactly these rows there are, where rows
            were put together (then n and y of the fit count them all); None: one each.
        power: as in `unshrunk`.

    Returns:
        (p, p); nan with fewer than two clusters.

    Source: Bell and McCaffrey 2002, Survey Methodology 28:169-181 (CR2); Mancl and DeRouen 2001,
    Biometrics 57:126-134.
    """
    groups = int(cluster.max()) + 1 if cluster.size else 0
    times = np.ones(groups) if copies is None else copies
    p = fit.coefficients.size
    if times.sum() < 2:
        return np.full((p, p), np.nan)
    values, vectors = np.linalg.eigh(fit.inverse_information)
    root = vectors @ np.diag(np.sqrt(np.maximum(values, 0))) @ vectors.T
    half = np.sqrt(fit.n * fit.share * (1 - fit.share))[:, None] * (fit.design @ root)
    score = summed(cluster, fit.scores @ root, groups) / times[:, None]
    leverage = summed(cluster, (half**2).sum(axis=1), groups) / times
    own = _by_series(half, cluster, times, score, power)
    for at in np.flatnonzero(leverage > MOST_BY_SERIES):
        rows = half[cluster == at]
        own[at] = unshrunk(rows.T @ rows / times[at], score[at], power)
    return np.asarray(root @ (own.T @ (times[:, None] * own)) @ root)


def _by_series(half: Floats, cluster: Codes, times: Floats, score: Floats, power: float) -> Floats:
    """Return (I - H)^-power·score of every cluster as a power series, for small leverages H."""
    term, total = score, score.copy()
    for step in range(TERMS):
        along = (half * term[cluster]).sum(axis=1)[:, None] * half
        term = (power + step) / (step + 1) * summed(cluster, along, times.size) / times[:, None]
        total += term
    return total


def slope_variance(
    cluster: Codes,
    stratum: Codes,
    n: Floats,
    centred: Floats,
    residual: Floats,
    size: Floats,
    whole: float,
) -> tuple[float, float]:
    """Return the CR2 variance of a slope within strata, and its degrees of freedom.

    With thousands of strata the small matrix of `cluster_covariance` would be a large one; that
    of a cluster's cells, which are few, stays small.

    Args:
        cluster, stratum: numbers from 0 without gaps, one element per cell.
        n: observations of each cell.
        centred: the regressor less its stratum's mean.
        residual: sum of the cell's residuals.
        size: observations of each stratum.
        whole: Σ n·centred².

    Source: Bell and McCaffrey 2002; Satterthwaite's degrees as in Pustejovsky and Tipton 2018, J
    Bus Econ Stat 36:672-683.
    """
    root = np.sqrt(n)
    loading = _loadings(cluster, stratum, root, root * centred, size, whole)
    clusters = int(cluster.max()) + 1
    score = summed(cluster, loading / root * residual, clusters)
    variance = float((score**2).sum()) / whole**2
    own = summed(cluster, loading**2, clusters)
    by_stratum = coo_array(
        (loading * root / np.sqrt(size[stratum]), (cluster, stratum)), shape=(clusters, size.size)
    ).tocsr()
    along = summed(cluster, loading * root * centred, clusters) / np.sqrt(whole)
    length = np.asarray(by_stratum.multiply(by_stratum).sum(axis=1)).ravel() + along**2
    cross = (by_stratum.T @ by_stratum).tocoo()
    mixed = by_stratum.T @ along
    square = float((cross.data**2).sum() + 2 * (mixed**2).sum() + (along**2).sum() ** 2)
    trace = float((own - length).sum())
    trace_of_square = float((own**2).sum() - 2 * (own * length).sum()) + square
    degrees = trace**2 / trace_of_square if trace_of_square > 0 and trace > 0 else 0.0
    return variance, degrees


def _loadings(
    cluster: Codes, stratum: Codes, root: Floats, x: Floats, size: Floats, whole: float
) -> Floats:
    """Return (I - H)^(-1/2)·x of every cluster, in the basis of its cells."""
    order = np.argsort(cluster, kind="stable")
    first = np.flatnonzero(np.r_[True, np.diff(cluster[order]) > 0])
    counts = np.diff(np.r_[first, order.size])
    out = np.empty_like(x)
    for count in np.unique(counts):
        rows = order[first[counts == count][:, None] + np.arange(count)]
        share = (stratum[rows][:, :, None] == stratum[rows][:, None, :]) / size[stratum[rows]][
            :, :, None
        ]
        hat = root[rows][:, :, None] * root[rows][:, None, :] * share
        hat += x[rows][:, :, None] * x[rows][:, None, :] / whole
        out[rows] = unshrunk(hat, x[rows], 0.5)
    return out
