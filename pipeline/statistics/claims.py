"""An outside share against a group's own."""

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import norm

WIDEST = 0.2


def score_p_value(rate: ArrayLike, n: ArrayLike, claimed: ArrayLike) -> Floats:
    """Return one less the level at which Wilson's interval just reaches the claimed share.

    Args:
        rate: the group's share, 0-1.
        n: independent observations it is worth.
        claimed: the share claimed, between 0 and 1.

    Returns:
        0-1, two-sided: 2·P(Z > |rate - claimed|/sqrt(claimed(1 - claimed)/n)); nan where an input
        is nan.
    """
    share, size, claim = (np.asarray(value, dtype=float) for value in (rate, n, claimed))
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.abs(share - claim) / np.sqrt(claim * (1 - claim) / size)
    return np.asarray(2 * norm.sf(z))


def verdicts(
    claimed: Floats, rate: Floats, low: Floats, high: Floats, p_value: Floats, level: float
) -> tuple[Floats, list[str]]:
    """Return the p-values adjusted for the number of claims, and a verdict for each.

    `consistent` where the interval holds the claim and is at most 20 points wide; `lower_here` or
    `higher_here` where it does not and the adjusted p-value is under 1 - level; else
    `too_few_to_say`. A claim that cannot be compared has a nan p-value and counts for nothing.
    """
    known = np.isfinite(p_value) & np.isfinite(low) & np.isfinite(high)
    adjusted = adjusted_p_values(np.where(known, p_value, np.nan))
    holds = (low <= claimed) & (claimed <= high)
    is_apart = known & ~holds & (adjusted < 1 - level)
    found = np.select(
        [
            known & holds & (high - low <= WIDEST),
            is_apart & (rate < claimed),
            is_apart & (rate > claimed),
        ],
        ["consistent", "lower_here", "higher_here"],
        default="too_few_to_say",
    )
    return adjusted, [str(word) for word in found]
