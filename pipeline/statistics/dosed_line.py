"""The line of a chamber's readings on doses, and how well it would correct a reading."""

from dataclasses import dataclass

import numpy as np

from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats

FEWEST_REPEATS, FEWEST_CHECKS, FEWEST_DOSES = 5, 8, 2
# Nine of ten normal errors lie within so many deviations.
NORMAL_95 = 1.645
LEAST_VARIANCE = 1e-4


@dataclass(frozen=True)
class Dosed:
    """Checks, blanks among them, each once for every window that it lies in.

    Attributes:
        window: (n,) which window, 0 or more, ascending.
        day: (n,) a number for the day; ascending in a window.
        dose_ul, reading_ul: (n,) µL; a dose of 0 is a blank.
        tolerance_ul: (n,) µL, above 0.
        dose_sd_ul: (n,) standard uncertainty of the dose, µL; 0 where none is given.
    """

    window: Codes
    day: Codes
    dose_ul: Floats
    reading_ul: Floats
    tolerance_ul: Floats
    dose_sd_ul: Floats


@dataclass(frozen=True)
class Lines:
    """The line of each window; one element a window, nan where it is not defined.

    Attributes:
        intercept_ul, slope, intercept_se_ul, slope_se, correlation: a and b of a + b·dose, their
            standard errors and the correlation of their errors.
        repeatability_sd_ul: deviation of repeated readings of one dose on one day.
        corrected_rms: root mean square, in tolerances, of the errors of the checks with water,
            each corrected by the line of all others; inf where such a line does not rise.
    """

    intercept_ul: Floats
    slope: Floats
    intercept_se_ul: Floats
    slope_se: Floats
    correlation: Floats
    repeatability_sd_ul: Floats
    corrected_rms: Floats


def lines(dosed: Dosed, windows: int) -> Lines:
    """Fit the weighted line of every window and try it on each check that it did not see.

    Weights are 1/((s·tolerance)² + (b·u)²): s the scatter in tolerances, from five or more repeated
    readings, else about the line weighted by tolerance alone; b the slope of that; u the
    uncertainty of the dose. Fewer repeats may agree by chance, above all where readings are
    rounded. Standard errors take the scatter about the line where it is larger than s.

    Args:
        dosed: the checks, by window.
        windows: number of windows.

    Source: weighted least squares, NIST/SEMATECH e-Handbook 4.4.5.2; leaving one out by
    leverages, Cook and Weisberg 1982.
    """
    window = dosed.window
    n = np.bincount(window, minlength=windows)
    with np.errstate(divide="ignore", invalid="ignore"):
        repeats, repeat_ul, repeat = _repeated(dosed, windows)
        plain = _weighted(dosed, 1 / dosed.tolerance_ul**2, windows)
        scatter = np.where(repeats >= FEWEST_REPEATS, repeat, plain.squares / (n - 2))
        variance = (
            np.where(np.isfinite(scatter), scatter, 0)[window] * dosed.tolerance_ul**2
            + (plain.slope[window] * dosed.dose_sd_ul) ** 2
        )
        weight = 1 / np.maximum(variance, LEAST_VARIANCE)
        fit = _weighted(dosed, weight, windows)
        inflation = np.where(n > 2, np.maximum(fit.squares / (n - 2), 1), np.nan)
        return Lines(
            intercept_ul=fit.intercept,
            slope=fit.slope,
            intercept_se_ul=np.sqrt(inflation * (1 / fit.weights + fit.dose**2 / fit.spread)),
            slope_se=np.sqrt(inflation / fit.spread),
            correlation=-fit.dose / np.sqrt(fit.spread / fit.weights + fit.dose**2),
            repeatability_sd_ul=np.sqrt(repeat_ul),
            corrected_rms=_corrected_rms(dosed, weight, fit, windows),
        )


@dataclass(frozen=True)
class _Weighted:
    weights: Floats
    dose: Floats
    spread: Floats
    slope: Floats
    intercept: Floats
    squares: Floats
    residual: Floats


def _weighted(dosed: Dosed, weight: Floats, windows: int) -> _Weighted:
    window = dosed.window

    def total(values: Floats) -> Floats:
        return summed(window, weight * values, windows)

    weights = total(np.ones_like(weight))
    dose, reading = total(dosed.dose_ul) / weights, total(dosed.reading_ul) / weights
    off = dosed.dose_ul - dose[window]
    spread = total(off**2)
    spread = np.where(spread > 1e-9 * weights * dose**2, spread, np.nan)
    slope = total(off * (dosed.reading_ul - reading[window])) / spread
    intercept = reading - slope * dose
    residual = dosed.reading_ul - intercept[window] - slope[window] * dosed.dose_ul
    return _Weighted(weights, dose, spread, slope, intercept, total(residual**2), residual)


def _corrected_rms(dosed: Dosed, weight: Floats, fit: _Weighted, windows: int) -> Floats:
    window = dosed.window
    off = dosed.dose_ul - fit.dose[window]
    leverage = weight * (1 / fit.weights[window] + off**2 / fit.spread[window])
    unseen = np.where(leverage < 1 - 1e-9, fit.residual / (1 - leverage), np.inf)
    slope = fit.slope[window] - weight * off * unseen / fit.spread[window]
    error = np.where(slope > 0, unseen / slope, np.inf) / dosed.tolerance_ul
    is_wet = dosed.dose_ul > 0
    squares = np.bincount(window[is_wet], weights=error[is_wet] ** 2, minlength=windows)
    return np.sqrt(squares / np.bincount(window[is_wet], minlength=windows))


def _repeated(dosed: Dosed, windows: int) -> tuple[Codes, Floats, Floats]:
    """Return repeats of one dose on one day, their variance in µL² and in tolerances²."""
    is_wet = dosed.dose_ul > 0
    window, day, dose = dosed.window[is_wet], dosed.day[is_wet], dosed.dose_ul[is_wet]
    reading, tolerance = dosed.reading_ul[is_wet], dosed.tolerance_ul[is_wet]
    if window.size == 0:
        return np.zeros(windows, dtype=np.int64), np.full(windows, np.nan), np.full(windows, np.nan)
    order = np.lexsort((dose, day, window))
    key = np.stack([window, day, dose])[:, order]
    place = np.cumsum(np.r_[True, (np.diff(key) != 0).any(axis=0)]) - 1
    ordered, allowed = reading[order], tolerance[order]
    n = np.bincount(place)
    off = ordered - (np.bincount(place, weights=ordered) / n)[place]
    own = window[order]
    repeats = np.bincount(own, minlength=windows) - np.bincount(
        own, weights=1 / n[place], minlength=windows
    )
    known = np.where(repeats > 0.5, repeats, np.nan)
    return (
        np.round(repeats).astype(np.int64),
        np.bincount(own, weights=off**2, minlength=windows) / known,
        np.bincount(own, weights=(off / allowed) ** 2, minlength=windows) / known,
    )


def is_holding(found: Lines, checks: Codes, doses: Codes) -> Flags:
    """Tell whether readings corrected by the line would hold the tolerance.

    Args:
        found: the lines.
        checks: checks with water of each window.
        doses: different doses with water among them.
    """
    with np.errstate(invalid="ignore"):
        return (
            (checks >= FEWEST_CHECKS) & (doses >= FEWEST_DOSES)
            & (NORMAL_95 * found.corrected_rms <= 1)
        )  # fmt: skip
