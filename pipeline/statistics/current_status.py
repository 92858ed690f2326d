"""When a level is passed, where each load shows only whether it has been: current-status data."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from pipeline.statistics.bootstrap import REPLICATES, SEED, resampled_cells
from pipeline.statistics.groups import numbered
from pipeline.statistics.intervals import Floats
from pipeline.statistics.newton import fit_tables
from pipeline.statistics.spline import natural_spline

KNOTS = 4
FEWEST = 10
RIDGE = 1e-4


@dataclass(frozen=True)
class Crossing:
    """When a share of loads is over the level.

    Attributes:
        days: first day on which it is; nan where it is not within the days seen.
        low, high: limits; nan where the limit lies beyond the days seen, or none can be given.
        is_at_most: it is so on the first day seen already.
    """

    days: float
    low: float
    high: float
    is_at_most: bool


UNKNOWN = Crossing(np.nan, np.nan, np.nan, is_at_most=False)


def days_until(
    days: ArrayLike,
    over: ArrayLike,
    n: ArrayLike,
    cluster: ArrayLike,
    shares: tuple[float, ...],
    *,
    first: float,
    last: float,
    level: float = 0.95,
    replicates: int = REPLICATES,
    seed: int = SEED,
) -> tuple[Crossing, ...]:
    """Return the days until each share of loads is over the level.

    Logistic regression of "over" on a natural spline of the log of days, made to rise by
    rearrangement; limits are percentiles over resampled clusters. Readings are not needed, only
    whether each was over: a straight line through gain would need the gain to rise evenly, and it
    levels off.

    Args:
        days: days since the last drying, above 0, one element per days, outcome and cluster.
        over: 1 where the reading was over the level, else 0.
        n: how many loads, whole.
        cluster: number of the wearer, or of a random group of wearers, 0 or more.
        shares: shares wanted, between 0 and 1.
        first, last: the days between which an answer may lie.
        level: confidence level.
        replicates: samples of clusters drawn.
        seed: seed of the random numbers.

    Returns:
        One crossing a share; all unknown with under 10 loads over, or not over, the level, or where
        all have the same days.

    Source: Sun 2006, The Statistical Analysis of Interval-censored Failure Time Data, ch. 5;
    Chernozhukov, Fernández-Val and Galichon 2010, Econometrica 78:1093-1125, rearrangement.
    """
    at, outcome, many, of = (np.asarray(values) for values in (days, over, n, cluster))
    kept = (at >= first) & (at <= last)
    at, outcome, many, of = at[kept], outcome[kept].astype(np.int64), many[kept], of[kept]
    if min(many[outcome == 1].sum(), many[outcome == 0].sum()) < FEWEST or first >= last:
        return tuple(UNKNOWN for _ in shares)
    distinct, place = np.unique(at, return_inverse=True)
    if distinct.size < 2:
        return tuple(UNKNOWN for _ in shares)
    total = np.bincount(place * 2 + outcome, weights=many, minlength=2 * distinct.size)
    number = numbered(of)
    drawn = resampled_cells(
        number, place * 2 + outcome, many, np.ones(number.max() + 1), 2 * distinct.size,
        replicates=replicates, seed=seed,
    )  # fmt: skip
    counts = np.vstack([total, drawn]).reshape(-1, distinct.size, 2)
    grid = np.arange(np.ceil(first), np.floor(last) + 1)
    basis = _basis(distinct, total.reshape(-1, 2).sum(axis=1))
    columns = basis(distinct)
    fitted, _ = fit_tables(
        columns, np.asarray(counts.sum(axis=2)), counts[..., 1], np.zeros(columns.shape[1]), RIDGE
    )
    share = np.sort(expit(fitted @ basis(grid).T), axis=1)
    return tuple(_crossing(share, grid, wanted, level) for wanted in shares)


def _crossing(share: Floats, grid: Floats, wanted: float, level: float) -> Crossing:
    reached = share >= wanted
    found = np.where(reached.any(axis=1), grid[reached.argmax(axis=1)], np.inf)
    tail = 0.5 - level / 2
    low = np.quantile(found[1:], tail, method="lower")
    high = np.quantile(found[1:], 1 - tail, method="higher")
    days, low, high = (value if np.isfinite(value) else np.nan for value in (found[0], low, high))
    return Crossing(float(days), float(low), float(high), is_at_most=bool(found[0] == grid[0]))


def _basis(days: Floats, n: Floats) -> Callable[[Floats], Floats]:
    """Return a natural spline in the log of days, flat beyond its ends: days to columns."""
    log_days = np.log(days)
    reached = (np.cumsum(n) - n / 2) / n.sum()
    inner = np.interp(np.linspace(0.05, 0.95, KNOTS), reached, log_days)
    knots = np.unique(np.r_[log_days[0], inner[1:-1], log_days[-1]])
    return lambda values: natural_spline(np.clip(np.log(values), knots[0], knots[-1]), knots)
