"""Times to an event where some were not followed to it: cumulative incidence and its limits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import norm, survfunc

CENSORED, EVENT, COMPETING = 0, 1, 2


@dataclass(frozen=True)
class Incidence:
    """Cumulative incidence of an event beside a competing one.

    Fields, one element per distinct time, in order: times, at_risk (followed to this time or
    longer), share, se (of the share), share_competing. Shares are 0 to 1.
    """

    times: Floats
    at_risk: Floats
    share: Floats
    se: Floats
    share_competing: Floats

    def at(self, times: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Return share, se and share_competing at these times; 0, nan and 0 before the first."""
        place = np.searchsorted(self.times, np.asarray(times, dtype=float), side="right")
        before = (0.0, np.nan, 0.0)
        columns = (self.share, self.se, self.share_competing)
        share, se, competing = (
            np.r_[start, values][place] for start, values in zip(before, columns, strict=True)
        )
        return share, se, competing

    def followed(self, times: ArrayLike) -> Floats:
        """Return how many were followed to each of these times or longer."""
        place = np.searchsorted(self.times, np.asarray(times, dtype=float), side="left")
        return np.asarray(np.r_[self.at_risk, 0.0][place], dtype=float)


def cumulative_incidence(times: ArrayLike, event: ArrayLike, n: ArrayLike) -> Incidence:
    """Return the Aalen-Johansen estimate from counts by time and event.

    Without a competing event this is 1 minus the Kaplan-Meier estimate. With one, 1 minus
    Kaplan-Meier would count those that had the competing event as if they could still fail.

    Args:
        times: times, 0 or more, in any unit; need not be distinct.
        event: 0 censored, 1 the event, 2 the competing event, of the same length.
        n: how many had that time and event, whole and 0 or more.

    Returns:
        Shares at every distinct time; se is nan where it is undefined, as at a share of 0 and
        once no one is left at risk. No observations give empty arrays.

    Source: Kalbfleisch and Prentice 2002; computed by statsmodels' CumIncidenceRight.
    """
    count = np.asarray(n, dtype=np.int64)
    time = np.repeat(np.asarray(times, dtype=float), count)
    status = np.repeat(np.asarray(event, dtype=np.int64), count)
    if time.size == 0:
        empty = np.zeros(0)
        return Incidence(empty, empty, empty, empty, empty)
    distinct, tied = np.unique(time, return_counts=True)
    at_risk = (time.size - np.cumsum(tied) + tied).astype(float)
    if not (status > 0).any():
        nothing = np.zeros(distinct.size)
        return Incidence(distinct, at_risk, nothing, np.full(distinct.size, np.nan), nothing)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = survfunc.CumIncidenceRight(time, status)
    # Sums of products of shares end a rounding error above 1.
    share = np.clip(np.round(found.cinc[0], 12), 0, 1)
    se = np.asarray(found.cinc_se[0], dtype=float)
    competing = found.cinc[1] if len(found.cinc) > 1 else np.zeros(distinct.size)
    se = np.where((share > 0) & (share < 1) & np.isfinite(se), se, np.nan)
    return Incidence(distinct, at_risk, share, se, np.clip(np.round(competing, 12), 0, 1))


def loglog_limits(share: ArrayLike, se: ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
    """Return limits of a share on the scale log(-log(1 - share)).

    Without competing events these are the log-log limits of the Kaplan-Meier estimate.

    Args:
        share: shares, 0 to 1.
        se: standard error of each.
        level: confidence level, between 0 and 1.

    Returns:
        Lower and upper limits, 0 to 1; nan where the share is 0 or 1 or the error is not known.

    Source: Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, 2nd ed.
    """
    value, error = np.broadcast_arrays(np.asarray(share, float), np.asarray(se, float))
    value = np.where((value > 0) & (value < 1), value, np.nan)
    rest = -np.log1p(-value)
    half = norm.ppf(0.5 + level / 2) * error / ((1 - value) * rest)
    return 1 - np.exp(-rest * np.exp(-half)), 1 - np.exp(-rest * np.exp(half))


def binned_incidence(counts: ArrayLike) -> tuple[Floats, Floats]:
    """Return cumulative incidence from counts in equal bins of time, for many tables at once.

    Within a bin events come before those that were censored in it. Meant for resampling, where
    thousands of tables are wanted; the estimate itself comes from `cumulative_incidence`.

    Args:
        counts: array (…, bins, 3): censored, events and competing events in each bin.

    Returns:
        Two arrays (…, bins): share with the event, and with the competing one, up to the bin's
        end; a bin that no one reached keeps the share before it.
    """
    table = np.asarray(counts, dtype=float)
    total = table.sum(axis=-1)
    at_risk = np.flip(np.cumsum(np.flip(total, -1), axis=-1), -1)
    at_risk = np.where(at_risk > 0, at_risk, 1.0)
    hazard = table[..., 1:] / at_risk[..., None]
    left = np.cumprod(1 - hazard.sum(axis=-1), axis=-1)
    before = np.concatenate([np.ones_like(left[..., :1]), left[..., :-1]], axis=-1)
    shares = np.cumsum(before[..., None] * hazard, axis=-2)
    return shares[..., 0], shares[..., 1]
