"""Intervals for one proportion."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

Floats = NDArray[np.float64]


def wilson(k: ArrayLike, n: ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
    """Return Wilson's score limits of k out of n, element by element.

    Args:
        k: counts, 0 <= k <= n; need not be whole, so that an effective count can be given.
        n: totals, 0 or more, of the same shape as k (or broadcast to it).
        level: confidence level, between 0 and 1.

    Returns:
        Lower and upper limits, each from 0 to 1; the lower limit at k = 0 is exactly 0 and the
        upper limit at k = n exactly 1. Both are nan where n is 0 or either input is nan: no
        observations are no estimate, never 0 %.

    Source: Wilson 1927, as method 3 of Newcombe 1998, Stat Med 17:857-872. The coverage is close
    to the level on average but dips below it near 0 and 1 (n = 10, p = .01: .904).
    """
    counts, totals = np.broadcast_arrays(np.asarray(k, dtype=float), np.asarray(n, dtype=float))
    totals = np.where(totals > 0, totals, np.nan)
    share = counts / totals
    z = ndtri(0.5 + level / 2)
    spread = z * np.sqrt(share * (1 - share) / totals + z**2 / (4 * totals**2))
    centre = share + z**2 / (2 * totals)
    scale = 1 + z**2 / totals
    low = np.where(share == 0, 0.0, np.clip((centre - spread) / scale, 0, 1))
    high = np.where(share == 1, 1.0, np.clip((centre + spread) / scale, 0, 1))
    return low, high
