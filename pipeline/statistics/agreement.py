"""Agreement of two yes/no judgements of the same aids, with limits by wearer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.clusters import adjusted_limits, icc_pooled, summed_clusters
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import t

FEWEST_WEARERS = 10


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


def limits_by_wearer(
    counts: Floats, wearers: Floats, level: float = 0.95
) -> dict[str, tuple[float, float]]:
    """Return limits of each part of an agreement, by wearer.

    Shares: Wilson's on the effective number of aids. Kappa: on the scale log(1 - kappa), with the
    error of sums over wearers (linearised) and t on wearers - 1; at a kappa of 1 the lower limit
    is that of the share judged alike, the agreement by chance taken as known.

    Args:
        counts: (kinds, 4), the four cells of each kind of wearer.
        wearers: how many wearers there are of each kind.
        level: confidence level.

    Returns:
        {part: (low, high)}; nan with fewer than 10 wearers, and where a part is nan or rests on
        one wearer. [Percentiles of resampled wearers held the truth of 40 wearers in 86 to 90 %
        of simulated samples.]

    Source: Korn and Graubard 1998, Survey Methodology 24:193-201; for kappa the delta method, as
    in Fleiss, Cohen and Everitt 1969, Psychol Bull 72:323-327, by wearer.
    """
    names = tuple(Agreement.__dataclass_fields__)
    if wearers.sum() < FEWEST_WEARERS:
        return dict.fromkeys(names, (np.nan, np.nan))
    a, b, c, d = counts.T
    limits = {
        "agree": _share_limits(a + d, a + b + c + d, wearers, level),
        "sensitivity": _share_limits(a, a + c, wearers, level),
        "specificity": _share_limits(d, b + d, wearers, level),
    }
    limits["kappa"] = _kappa_limits(counts, wearers, limits["agree"][0], level)
    return {name: limits[name] for name in names}


def _share_limits(y: Floats, n: Floats, wearers: Floats, level: float) -> tuple[float, float]:
    sums = summed_clusters(n, y, wearers)
    found = adjusted_limits(sums, icc_pooled(sums), level)
    return float(found.adjusted_low[0]), float(found.adjusted_high[0])


def _kappa_limits(
    counts: Floats, wearers: Floats, agree_low: float, level: float
) -> tuple[float, float]:
    total, people = wearers @ counts, float(wearers.sum())
    n = float(total.sum())
    whole = agreement(*total)
    first, second = (total[0] + total[1]) / n, (total[0] + total[2]) / n
    chance = first * second + (1 - first) * (1 - second)
    if not np.isfinite(whole.kappa):
        return np.nan, np.nan
    if whole.agree == 1:
        return max(-1.0, 1 - (1 - agree_low) / (1 - chance)), 1.0
    own = counts.sum(axis=1)
    agree = (counts[:, 0] + counts[:, 3] - own * whole.agree) / n
    by_chance = (2 * second - 1) * (counts[:, 0] + counts[:, 1] - own * first) / n
    by_chance += (2 * first - 1) * (counts[:, 0] + counts[:, 2] - own * second) / n
    influence = by_chance / (1 - chance) - agree / (1 - whole.agree)
    error = np.sqrt(people / (people - 1) * (wearers @ influence**2))
    half = t.ppf(0.5 + level / 2, people - 1) * error
    rest = 1 - float(whole.kappa)
    return max(-1.0, 1 - rest * np.exp(half)), 1 - rest * np.exp(-half)
