"""Agreement of two yes/no judgements of the same aids, with limits by wearer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import Floats

DRAWS = 2000


@dataclass(frozen=True)
class Agreement:
    """Agreement of a judgement with a standard; shares 0-1, kappa -1 to 1, nan if undefined.

    Fields hold one element per table: agree (share judged alike), kappa (Cohen's), sensitivity
    (judged positive of those positive by the standard), specificity (judged negative of those
    negative by it).
    """

    agree: Floats
    kappa: Floats
    sensitivity: Floats
    specificity: Floats


def agreement(
    both: ArrayLike, judged: ArrayLike, standard: ArrayLike, none: ArrayLike
) -> Agreement:
    """Compare a judgement with a standard, element by element.

    Args:
        both: positive by both.
        judged: positive by the judgement only.
        standard: positive by the standard only.
        none: negative by both.

    Source: Cohen 1960, Educ Psychol Meas 20:37-46.
    """
    a, b, c, d = (np.asarray(count, dtype=float) for count in (both, judged, standard, none))
    n = a + b + c + d
    with np.errstate(divide="ignore", invalid="ignore"):
        observed = (a + d) / n
        expected = ((a + b) * (a + c) + (c + d) * (b + d)) / n**2
        kappa = np.where(expected < 1, (observed - expected) / (1 - expected), np.nan)
        return Agreement(observed, kappa, a / (a + c), d / (b + d))


def bootstrap_limits(
    counts: Floats, wearers: Floats, level: float = 0.95, seed: int = 1
) -> dict[str, tuple[float, float]]:
    """Return percentile limits of each part of an agreement, drawing wearers with replacement.

    Args:
        counts: (kinds, 4), the four cells of each kind of wearer.
        wearers: how many wearers there are of each kind.
        level: confidence level.
        seed: of the draws; the same input gives the same limits.

    Returns:
        {part: (low, high)}; nan with fewer than 10 wearers, or where over a tenth of the draws
        cannot tell.
    """
    total = int(wearers.sum())
    names = tuple(Agreement.__dataclass_fields__)
    if total < 10:
        return dict.fromkeys(names, (float("nan"), float("nan")))
    rng = np.random.default_rng(seed)
    drawn = rng.multinomial(total, wearers / wearers.sum(), size=DRAWS) @ counts
    found = agreement(*drawn.T)
    tails = [0.5 - level / 2, 0.5 + level / 2]
    limits = {}
    for name in names:
        values = getattr(found, name)
        told = values[np.isfinite(values)]
        low, high = np.quantile(told, tails) if told.size > 0.9 * DRAWS else (np.nan, np.nan)
        limits[name] = (float(low), float(high))
    return limits
