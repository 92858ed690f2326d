"""The difference of two shares of the same aids."""

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.clusters import squares_about, summed_clusters
from pipeline.statistics.intervals import Floats, wilson


def newcombe_paired(
    both: ArrayLike, first: ArrayLike, second: ArrayLike, neither: ArrayLike, level: float = 0.95
) -> tuple[Floats, Floats, Floats]:
    """Return the difference of paired shares and its limits, element by element.

    Wilson limits of the two shares, put together with the pairs' correlation, which is lowered by
    half an observation where it is positive.

    Args:
        both: pairs with the property at both moments; counts need not be whole.
        first: pairs with it at the first moment only.
        second: pairs with it at the second moment only.
        neither: pairs without it.
        level: confidence level, between 0 and 1.

    Returns:
        (first - second)/n, its lower and upper limit, each from -1 to 1; nan without pairs.

    Source: Newcombe 1998, Stat Med 17:2635-2650, method 10.
    """
    e, f, g, h = np.broadcast_arrays(
        *(np.asarray(count, dtype=float) for count in (both, first, second, neither))
    )
    n = e + f + g + h
    n = np.where(n > 0, n, np.nan)
    one, two = (e + f) / n, (e + g) / n
    low_one, high_one = wilson(e + f, n, level)
    low_two, high_two = wilson(e + g, n, level)
    product = e * h - f * g
    lowered = np.where(product > n / 2, product - n / 2, np.where(product > 0, 0.0, product))
    margins = (e + f) * (g + h) * (e + g) * (f + h)
    with np.errstate(divide="ignore", invalid="ignore"):
        phi = np.where(margins > 0, lowered / np.sqrt(np.where(margins > 0, margins, 1.0)), 0.0)
    difference = (f - g) / n
    down = _spread(one - low_one, high_two - two, phi)
    up = _spread(high_one - one, two - low_two, phi)
    return difference, np.clip(difference - down, -1, 1), np.clip(difference + up, -1, 1)


def paired_design_effect(pairs: Floats, first: Floats, second: Floats, clusters: Floats) -> float:
    """Return the variance of a paired difference by cluster over that of independent pairs.

    m/(m-1)·Σ(d_i - n_i·d)² over Σ(x - d)², where d_i = first_i - second_i and x is each pair's
    -1, 0 or 1.

    Args:
        pairs, first, second: each kind of cluster's pairs, and those with the property at the
            first or second moment only.
        clusters: how many clusters there are of each kind.

    Returns:
        0 or more; nan with fewer than two clusters, 1 where no pair changed.
    """
    m, n = float(clusters.sum()), float((clusters * pairs).sum())
    if m < 2 or n == 0:
        return float("nan")
    d = float((clusters * (first - second)).sum()) / n
    between = float(squares_about(summed_clusters(pairs, first - second, clusters), d)[0])
    within = float((clusters * (first + second)).sum()) - n * d**2
    return between / within if within > 0 else 1.0


def _spread(one: Floats, two: Floats, phi: Floats) -> Floats:
    squares = one**2 - 2 * phi * one * two + two**2
    return np.asarray(np.sqrt(np.maximum(squares, 0)))
