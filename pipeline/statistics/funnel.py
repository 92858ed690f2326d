"""Funnel limits: how far a site's rate may stray from what is expected by chance alone."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm

from pipeline.statistics.intervals import Floats

LARGEST_EXACT = 1500


def interpolated_quantile(cumulative: ArrayLike, share: float) -> float:
    """Return the quantile of a whole-number distribution, interpolated between its steps.

    With r the least count whose cumulative probability F reaches `share`, it is
    r - (F(r) - share)/(F(r) - F(r-1)), floor 0: limits move smoothly with the number of aids.

    Args:
        cumulative: F(0), F(1), … up to a count at which it exceeds `share`.
        share: 0 to 1, exclusive.

    Source: Spiegelhalter 2005, Stat Med 24:1185-1202, appendix A.1.1.
    """
    reached = np.asarray(cumulative, dtype=float)
    r = min(int(np.searchsorted(reached, share, side="left")), reached.size - 1)
    below = reached[r - 1] if r else 0.0
    step = reached[r] - below
    part = (reached[r] - share) / step if step > 0 else 0.0
    return max(0.0, float(r - part))


def poisson_binomial(n: ArrayLike, share: ArrayLike) -> Floats:
    """Return the probabilities of 0, 1, … Σn events among aids of different chances.

    The characteristic function, a product over the patterns, is turned back by a fast Fourier
    transform; exact to rounding.

    Args:
        n: aids of each pattern, whole numbers, 0 or more.
        share: chance of each pattern's aids, 0 to 1.

    Source: Hong 2013, Comput Stat Data Anal 59:41-51.
    """
    aids, chance = np.asarray(n, dtype=float), np.asarray(share, dtype=float)
    steps = round(aids.sum()) + 1
    turn = np.exp(2j * np.pi * np.arange(steps // 2 + 1) / steps)[:, None]
    with np.errstate(divide="ignore"):
        logs = np.log(1 - chance + chance * turn)
    values = np.exp(np.where(aids > 0, aids * logs, 0).sum(axis=1))
    return np.asarray(np.clip(np.fft.irfft(np.conj(values), steps), 0, None))


def count_quantiles(n: ArrayLike, share: ArrayLike, at: ArrayLike) -> Floats:
    """Return interpolated quantiles of the number of events among aids of different chances.

    Above 1500 aids by the normal form corrected for skewness (Cornish and Fisher), less the half
    step by which interpolation lies below it.

    Args:
        n: aids of each pattern, whole numbers; their sum 1 or more.
        share: chance of each pattern's aids, 0 to 1.
        at: the shares wanted, 0 to 1, exclusive.

    Returns:
        One count per share wanted, 0 to Σn.
    """
    aids, chance = np.asarray(n, dtype=float), np.asarray(share, dtype=float)
    wanted = np.asarray(at, dtype=float)
    if aids.sum() <= LARGEST_EXACT:
        cumulative = np.cumsum(poisson_binomial(aids, chance))
        return np.array([interpolated_quantile(cumulative, one) for one in wanted])
    variance = float(np.sum(aids * chance * (1 - chance)))
    third = float(np.sum(aids * chance * (1 - chance) * (1 - 2 * chance)))
    z = norm.ppf(wanted)
    spread = np.sqrt(variance) * z + third / max(variance, 1e-12) * (z**2 - 1) / 6
    found = float(np.sum(aids * chance)) + spread - 0.5
    return np.asarray(np.clip(found, 0, aids.sum()))
