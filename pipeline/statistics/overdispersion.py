"""Do sites differ by more than chance, and by how much?"""

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import chi2

TAIL = 0.1
TINY = 1e-9


def winsorised(z: ArrayLike, tail: float = TAIL) -> Floats:
    """Pull the values beyond the `tail` and 1 - `tail` quantiles (linear) in to them.

    One site far out then cannot widen its own limits.
    """
    values = np.asarray(z, dtype=float)
    low, high = np.quantile(values, [tail, 1 - tail])
    return np.asarray(np.clip(values, low, high))


def mean_square(z: ArrayLike) -> float:
    """Return φ, the mean of z²: near 1 where chance alone moves the sites.

    Source: Spiegelhalter 2005, Stat Med 24:1185-1202, section 4.
    """
    return float(np.mean(np.asarray(z, dtype=float) ** 2))


def variance_between(phi: float, variance: ArrayLike) -> float:
    """Return τ², the variance between sites that is left over, by moments; 0 or more.

    τ² = (Iφ - (I - 1)) / (Σw - Σw²/Σw), with w = 1/variance.

    Args:
        phi: mean of z² over the I sites, winsorised or not.
        variance: variance of each site's value by chance, above 0, on the scale τ² is wanted on.

    Source: DerSimonian and Laird 1986, Control Clin Trials 7:177-188.
    """
    weight = 1 / np.asarray(variance, dtype=float)
    sites = weight.size
    spread = weight.sum() - (weight**2).sum() / weight.sum()
    if sites < 2 or spread <= 0:
        return 0.0
    return float(max(0.0, (sites * phi - (sites - 1)) / spread))


def dispersion_elsewhere(squares: Floats, spread: Floats) -> Floats:
    """Return by site D = max(1, squares/spread) of the other sites, 1 where nothing can be told.

    Two aids of a wearer that go together count as less than two; D says by how much a site's
    variance is larger than that of independent aids. The residuals of a site whose work is far off
    would hide it, so a site never tells its own.

    Args:
        squares: sum over each site's clusters of the squared sum of residuals; 0 for a site that
            tells nothing of the others.
        spread: what independent aids would give; 0 for the same sites.
    """
    others, of_others = squares.sum() - squares, spread.sum() - spread
    ratio = np.divide(others, of_others, out=np.ones(squares.size), where=of_others > TINY)
    return np.asarray(np.maximum(ratio, 1.0))


def homogeneity_p(z: ArrayLike) -> float:
    """Return the p-value of equal sites, from z-values each set against the other sites.

    For I equal sites Σz² is I/(I-1) times a chi-square variable of I - 1 degrees of freedom, since
    the same sites stand on both sides. Nan with fewer than two sites.
    """
    values = np.asarray(z, dtype=float)
    sites = values.size
    if sites < 2:
        return float("nan")
    return float(chi2.sf(np.sum(values**2) * (sites - 1) / sites, sites - 1))
