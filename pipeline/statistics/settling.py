"""How many aids show that drying stops none: sizes for the safety difference."""

import numpy as np

from pipeline.statistics.intervals import wilson
from pipeline.statistics.late import binom
from pipeline.statistics.share_difference import ASSUMED_CORRELATION

MOST_PER_ARM = 1_000_000


def assumed_effect(aids_per_wearer: float, aids_per_week: float) -> float:
    """Return the design effect taken for planning: both kinds of cluster together.

    Args:
        aids_per_wearer, aids_per_week: aids of one cluster of an arm, Σn²/Σn, 1 or more.
    """
    return (
        1
        + ASSUMED_CORRELATION["wearer"] * max(0.0, aids_per_wearer - 1)
        + ASSUMED_CORRELATION["site_week"] * max(0.0, aids_per_week - 1)
    )


def settling_power(n: float, background: float, acceptable: float, level: float = 0.95) -> float:
    """Return how often n independent aids an arm show an excess of at most `acceptable`.

    Both arms stop at the rate `background`; shown is: the upper limit of the difference is at
    most `acceptable`. Both counts are summed over exactly.
    """
    size = max(1, int(n))
    ends = binom.ppf([1e-9, 1 - 1e-9], size, background)
    k = np.arange(int(ends[0]), int(ends[1]) + 1)
    chance = binom.pmf(k, size, background)
    share = k / size
    low, high = wilson(k.astype(float), np.full(k.size, float(size)), level)
    upper = (share[:, None] - share[None, :]) + np.sqrt(
        (high - share)[:, None] ** 2 + (share - low)[None, :] ** 2
    )
    return float((chance[:, None] * chance[None, :] * (upper <= acceptable)).sum())


def settling_per_arm(
    background: float,
    acceptable: float,
    *,
    effect: float = 1.0,
    power: float = 0.9,
    level: float = 0.95,
) -> int:
    """Return the aids each arm needs so that drying, if it stops none, is shown to.

    Args:
        background: share of aids that stop whatever is done, 0 to under 1.
        acceptable: excess up to which drying counts as safe, above 0.
        effect: design effect, 1 or more.
        power: share of comparisons that are to settle it.

    Raises:
        ValueError: on values out of range, or where over a million aids would be needed.
    """
    if not (0 <= background < 1 and acceptable > 0 and effect >= 1):
        raise ValueError("needs a background from 0 to under 1, acceptable above 0, effect from 1")
    low, high = 1, 64
    while settling_power(high, background, acceptable, level) < power:
        low, high = high, 2 * high
        if high > MOST_PER_ARM:
            raise ValueError("over a million aids in each arm would be needed")
    while high - low > max(1, high // 200):
        middle = (low + high) // 2
        if settling_power(middle, background, acceptable, level) >= power:
            high = middle
        else:
            low = middle
    return int(np.ceil(high * effect))
