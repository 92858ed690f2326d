"""Where one reading stands among its peers, some of them below detection."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import wilson
from pipeline.statistics.left_censored import cumulative, shares_at


@dataclass(frozen=True)
class Place:
    """Shares of the peers, 0-1, below a reading and up to it, and limits of its centile.

    Fields: share_below and share_up_to; share, their middle; low and high, its limits; is_tied
    where the reading belongs to the peers below detection, among whom there is no order (then
    share_below is 0, and low and high are limits of share_up_to); peers.
    """

    share_below: float
    share_up_to: float
    share: float
    low: float
    high: float
    is_tied: bool
    peers: int


def place(
    value: float,
    *,
    is_below: bool,
    values: ArrayLike,
    below: ArrayLike,
    wearers: ArrayLike,
    level: float = 0.95,
) -> Place | None:
    """Return where a reading stands.

    The peers' distribution is the reverse Kaplan-Meier estimate: a reading below its limit is
    somewhere below it. A reading that is itself below its limit is tied with all that lies below
    that limit; so is one under the smallest reading ever detected.

    Args:
        value: the reading in µL, or its limit where is_below.
        is_below: the reading is below detection.
        values: the peers' readings or limits, µL, any length.
        below: true where a peer's value is a limit; same length.
        wearers: peers with that value, whole, 1 or more; same length.
        level: confidence level.

    Returns:
        The place; None without peers. The limits are Wilson's on the number of peers: each peer is
        another wearer.

    Source: Helsel 2012, Statistics for Censored Environmental Data (reversal of a left-censored
    scale).
    """  # fmt: skip
    seen, under = np.asarray(values, dtype=float), np.asarray(below, dtype=bool)
    peers = int(np.sum(wearers))
    if peers == 0:
        return None
    detected, limits = seen[~under], seen[under]
    is_lowest = detected.size == 0 or value < detected.min()
    is_tied = is_below or (is_lowest and limits.size > 0 and value < limits.max())
    told = pl.DataFrame({"value": seen, "below": under, "loads": wearers, "all": 0})
    curve = cumulative(told, ["all"])
    least = 0.0 if is_tied else float(shares_at(curve, value, is_value_in=False))
    most = float(shares_at(curve, value, is_value_in=not is_below))
    middle = (least + most) / 2
    of = most if is_tied else middle
    low, high = (float(limit) for limit in wilson(of * peers, peers, level))
    return Place(least, most, middle, low, high, is_tied=is_tied, peers=peers)
