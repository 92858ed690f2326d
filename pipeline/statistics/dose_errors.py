"""Bias, scatter and drift of a chamber, from its dose checks in units of their tolerance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import chi2, t

RECENT_DAYS, DRIFT_DAYS = 180, 365
FEWEST_DAYS, SHORTEST_SPAN_DAYS = 6, 90
HALF_YEAR_DAYS = 182.625
BIAS_LEVEL, SCATTER_LEVEL, WITHOUT_WORST_LEVEL, DRIFT_LEVEL = 0.99, 0.99, 0.9, 0.999
SINGULAR = 1e-10


@dataclass(frozen=True)
class Checks:
    """Dose checks with water, each once for every window that it lies in.

    Attributes:
        window: (n,) which window, 0 or more, ascending.
        age_days: (n,) days from the check to the window's end, 0 to 364; descending in a window.
        dose_ul, reading_ul, tolerance_ul: (n,) µL; dose and tolerance above 0.
        is_chance: (n,) a retest settled this check's badness as chance: it tells of the scatter
            alone.
    """

    window: Codes
    age_days: Codes
    dose_ul: Floats
    reading_ul: Floats
    tolerance_ul: Floats
    is_chance: Flags

    @property
    def error(self) -> Floats:
        """Reading less dose, in tolerances."""
        return (self.reading_ul - self.dose_ul) / self.tolerance_ul

    def of(self, chosen: Flags) -> "Checks":
        """Return the chosen checks."""
        return Checks(*(getattr(self, name)[chosen] for name in Checks.__dataclass_fields__))


@dataclass(frozen=True)
class Errors:
    """What the checks of each window say; one element a window, nan where it cannot be told.

    Attributes:
        is_checked: there is any check.
        days: days with a check with water, of 180.
        mean, mean_low, mean_high: mean of the days' errors and its 99 % limits, in tolerances.
        sd, sd_low: deviation of single checks about line and slope, and its lower 99 % limit.
        sd_low_without_worst: lower 90 % limit of the deviation without the check that fits least.
        drift, drift_low, drift_high: change of the error in half a year and its 99.9 % limits.
    """

    is_checked: Flags
    days: Codes
    mean: Floats
    mean_low: Floats
    mean_high: Floats
    sd: Floats
    sd_low: Floats
    sd_low_without_worst: Floats
    drift: Floats
    drift_low: Floats
    drift_high: Floats


def errors(checks: Checks, windows: int) -> Errors:
    """Reckon mean error, scatter and drift of every window.

    One day is one observation of the mean and of the drift, whatever was put in on it: errors of
    one day share the room, the pipette and the hand. The scatter is that of single checks, its
    degrees of freedom those of days. Mean and scatter take the checks of 180 days, the drift those
    of 365 on a span of 90 or more; each needs six days.

    Args:
        checks: the checks, by window.
        windows: number of windows.

    Source: limits of a mean and of a standard deviation, NIST/SEMATECH e-Handbook 7.2.2.1 and
    7.2.3.1; least squares with leverages, Cook and Weisberg 1982.
    """
    is_checked = np.bincount(checks.window, minlength=windows) > 0
    recent = checks.of(checks.age_days < RECENT_DAYS)
    days = np.bincount(_by_day(recent)[0], minlength=windows)
    mean = _mean(recent.of(~recent.is_chance), windows)
    scatter = _scatter(recent, days, windows)
    drift = _drift(checks.of(~checks.is_chance), windows)
    return Errors(is_checked, days, *mean, *scatter, *drift)


def _mean(checks: Checks, windows: int) -> tuple[Floats, Floats, Floats]:
    window, (error,) = _by_day(checks, checks.error)
    days = np.bincount(window, minlength=windows)
    n = np.where(days >= FEWEST_DAYS, days, np.nan)
    mean = summed(window, error, windows) / n
    off = error - mean[window]
    reach = t.ppf(0.5 + BIAS_LEVEL / 2, n - 1) * np.sqrt(
        summed(window, off**2, windows) / (n - 1) / n
    )
    return mean, mean - reach, mean + reach


def _scatter(checks: Checks, days: Codes, windows: int) -> tuple[Floats, Floats, Floats]:
    error = checks.error
    n = np.where(days >= FEWEST_DAYS, summed(checks.window, np.ones_like(error), windows), np.nan)
    fit = _fitted(_terms(checks), error, checks.window, windows)
    sd = np.sqrt(fit.squares / (n - fit.rank))
    freedom = np.where(np.isnan(n), np.nan, days - fit.rank)
    low = sd * np.sqrt(freedom / chi2.ppf(SCATTER_LEVEL, freedom))
    left = fit.residual**2 / np.maximum(1 - fit.leverage, SINGULAR)
    worst = np.zeros(windows)
    np.maximum.at(worst, checks.window, left)
    fewer = np.where(freedom > 1, freedom - 1, np.nan)
    rest = np.sqrt(np.maximum(fit.squares - worst, 0) / (n - fit.rank - 1))
    return sd, low, rest * np.sqrt(fewer / chi2.ppf(WITHOUT_WORST_LEVEL, fewer))


def _drift(checks: Checks, windows: int) -> tuple[Floats, Floats, Floats]:
    terms = _terms(checks)
    window, (error, age, *columns) = _by_day(checks, checks.error, checks.age_days, *terms.T)
    n = np.bincount(window, minlength=windows)
    oldest, newest = np.zeros(windows), np.full(windows, np.inf)
    np.maximum.at(oldest, window, age)
    np.minimum.at(newest, window, age)
    fit = _fitted(np.stack(columns, axis=1), error, window, windows)
    is_known = (
        (n >= FEWEST_DAYS) & (oldest - newest >= SHORTEST_SPAN_DAYS) & fit.is_slope_known
        & (n > fit.rank)
    )  # fmt: skip
    freedom = np.where(is_known, n - fit.rank, np.nan)
    slope = np.where(is_known, fit.slope, np.nan)
    reach = t.ppf(0.5 + DRIFT_LEVEL / 2, freedom) * np.sqrt(
        np.maximum(fit.slope_spread, 0) * fit.squares / freedom
    )
    return slope, slope - reach, slope + reach


def _terms(checks: Checks) -> Floats:
    """Return what an error in tolerances rests on: slope, intercept, time in half years."""
    return np.stack(
        [
            checks.dose_ul / checks.tolerance_ul,
            1 / checks.tolerance_ul,
            -checks.age_days / HALF_YEAR_DAYS,
        ],
        axis=1,
    )


@dataclass(frozen=True)
class _Fit:
    residual: Floats
    leverage: Floats
    squares: Floats
    rank: Floats
    slope: Floats
    slope_spread: Floats
    is_slope_known: Flags


def _fitted(terms: Floats, error: Floats, window: Codes, windows: int) -> _Fit:
    """Fit the errors of each window to its terms by least squares; terms that tell nothing go.

    The last term is time; `slope` is its coefficient.
    """
    wide = terms.shape[1]
    size = np.sqrt(summed(window, terms**2, windows))
    size[size == 0] = 1
    x = terms / size[window]
    pairs = (x[:, :, None] * x[:, None, :]).reshape(-1, wide**2)
    crossed = summed(window, pairs, windows).reshape(windows, wide, wide)
    with_error = summed(window, x * error[:, None], windows)
    inverse = np.linalg.pinv(crossed, rcond=SINGULAR, hermitian=True)
    weight = np.einsum("wij,wj->wi", inverse, with_error)
    residual = error - np.einsum("ni,ni->n", x, weight[window])
    kept = np.einsum("wij,wji->wi", inverse, crossed)
    return _Fit(
        residual=residual,
        leverage=np.einsum("ni,nij,nj->n", x, inverse[window], x),
        squares=summed(window, residual**2, windows),
        rank=np.round(kept.sum(axis=1)),
        slope=weight[:, -1] / size[:, -1],
        slope_spread=inverse[:, -1, -1] / size[:, -1] ** 2,
        is_slope_known=kept[:, -1] > 1 - 1e-6,
    )


def _by_day(checks: Checks, *values: NDArray[np.generic]) -> tuple[Codes, list[Floats]]:
    """Return the window of each day of checks, and the means of the values on it."""
    if checks.window.size == 0:
        return checks.window, [np.zeros(0) for _ in values]
    is_new = np.r_[True, (np.diff(checks.window) != 0) | (np.diff(checks.age_days) != 0)]
    place = np.cumsum(is_new) - 1
    n = np.bincount(place)
    return checks.window[is_new], [np.bincount(place, weights=value) / n for value in values]
