"""How far the clock of a log runs from the clock of the records, from starts that should agree."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.statistics.late import stats

WIDEST, TOLERANCE = 180.0, 3.0
LEAST_PAIRS, MOST_CHANCE, LEAST_SHARE = 8, 1e-4, 0.4
LEAST_DAYS = 14.0
MINUTES_A_DAY = 1440.0
LEVEL = 0.95


@dataclass(frozen=True)
class ClockOffset:
    """A log's clock against the records'.

    Attributes:
        minutes: how far the log's clock is ahead, at the middle of the time covered; negative
            where it is behind.
        low, high: interval of 95 % for it.
        pairs: records with a run at that distance.
        records: records compared.
        expected: pairs that chance alone would give.
        drift: minutes that it gains a day; None where the pairs cover under 14 days.
        drift_low, drift_high: interval of 95 % for the drift.
    """

    minutes: float
    low: float
    high: float
    pairs: int
    records: int
    expected: float
    drift: float | None = None
    drift_low: float | None = None
    drift_high: float | None = None


def clock_offset(
    runs: NDArray[np.float64], records: NDArray[np.float64], widest: float = WIDEST
) -> ClockOffset | None:
    """Estimate by how much the starts of a log lie after those of the records.

    Every record is set against every run within `widest`; a clock that is off puts many of these
    differences at one place, chance spreads them. The place is the window of twice `TOLERANCE`
    with most records in it, the estimate the median difference there with its interval from
    order statistics, the drift the Theil-Sen slope on the day with its interval from Kendall's
    tau (Sen 1968).

    Args:
        runs: starts by the log's clock, minutes from any origin; one chamber's.
        records: starts by the records' clock, minutes from the same origin.
        widest: the largest difference looked for, minutes.

    Returns:
        None where fewer than eight records agree on one difference, where they are under 40 % of
        the records, or where chance alone gives as many with a probability over 1 in 10 000 (a
        Poisson count, times the windows looked at).
    """
    runs, records = np.sort(runs), np.sort(records)
    at, difference = _differences(runs, records, widest)
    if difference.size < LEAST_PAIRS:
        return None
    order = np.argsort(difference, kind="stable")
    at, difference = at[order], difference[order]
    ends = np.searchsorted(difference, difference + 2 * TOLERANCE, side="right")
    counts = ends - np.arange(difference.size)
    first = int(np.argmax(counts))
    window = slice(first, int(ends[first]))
    inside, day = difference[window], records[at[window]] / MINUTES_A_DAY
    pairs = int(np.unique(at[window]).size)
    expected = difference.size * 2 * TOLERANCE / (2 * widest)
    windows = widest / TOLERANCE
    chance = float(stats.poisson.sf(pairs - 1, max(expected, 1e-9))) * windows
    if pairs < LEAST_PAIRS or pairs < LEAST_SHARE * records.size or chance > MOST_CHANCE:
        return None
    low, high = _median_interval(inside)
    drift = _drift(inside, day)
    return ClockOffset(
        float(np.median(inside)), low, high, pairs, int(records.size), float(expected), *drift
    )


def _differences(
    runs: NDArray[np.float64], records: NDArray[np.float64], widest: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the index of the record and the difference of every pair that is near enough."""
    low = np.searchsorted(runs, records - widest, side="left")
    high = np.searchsorted(runs, records + widest, side="right")
    count = high - low
    at = np.repeat(np.arange(records.size), count)
    start = np.repeat(low, count)
    within = np.arange(at.size) - np.repeat(np.cumsum(count) - count, count)
    return at, runs[start + within] - records[at]


def _median_interval(values: NDArray[np.float64]) -> tuple[float, float]:
    """Return the interval of 95 % for a median, from order statistics."""
    ordered = np.sort(values)
    below = int(stats.binom.ppf((1 - LEVEL) / 2, ordered.size, 0.5))
    return float(ordered[max(below - 1, 0)]), float(
        ordered[min(ordered.size - below, ordered.size - 1)]
    )


def _drift(
    values: NDArray[np.float64], day: NDArray[np.float64]
) -> tuple[float | None, float | None, float | None]:
    if np.ptp(day) < LEAST_DAYS:
        return None, None, None
    slope = stats.theilslopes(values, day, alpha=LEVEL)
    return float(slope.slope), float(slope.low_slope), float(slope.high_slope)
