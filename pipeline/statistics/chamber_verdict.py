"""Verdicts on a chamber's bias, scatter, drift and pump, and the standing that follows."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.statistics.dose_errors import Errors
from pipeline.statistics.groups import Codes, Flags
from pipeline.statistics.intervals import wilson
from pipeline.statistics.retest import FAILED, OPEN

Words = NDArray[np.str_]

WITHIN, OUTSIDE, TOO_FEW, NOT_RECORDED = "within", "outside", "too_few_to_say", "not_recorded"
HALF = 0.5
NORMAL_975 = 1.96
FEWEST_CYCLES, TOLERATED_SHARE = 20, 0.1


def bias(found: Errors) -> Words:
    """Judge the mean error, in tolerances: outside where its limits lie beyond a half.

    Within where they lie inside the tolerance; else too few to say.
    """
    with np.errstate(invalid="ignore"):
        is_off = (found.mean_low > HALF) | (found.mean_high < -HALF)
        is_in = (found.mean_low >= -1) & (found.mean_high <= 1)
    return _worded(found, is_off, is_in)


def scatter(found: Errors) -> Words:
    """Judge the deviation of single checks: outside where 1.96 of it are beyond the tolerance.

    By its lower limit, and by that without the check that fits least: one bad dose is no scatter.
    """
    with np.errstate(invalid="ignore"):
        is_off = (found.sd_low * NORMAL_975 > 1) & (found.sd_low_without_worst * NORMAL_975 > 1)
    return _worded(found, is_off, np.isfinite(found.sd_low))


def drift(found: Errors) -> Words:
    """Judge the change in half a year: outside where clear of 0 and beyond half a tolerance."""
    with np.errstate(invalid="ignore"):
        is_clear = (found.drift_low > 0) | (found.drift_high < 0)
        is_off = is_clear & (np.abs(found.drift) > HALF)
    return _worded(found, is_off, np.isfinite(found.drift))


def pump(short: ArrayLike, cycles: ArrayLike, level: float = 0.95) -> Words:
    """Judge the share of cycles in which water could not have boiled, by Wilson's lower limit.

    Args:
        short: cycles in which it could not.
        cycles: cycles with pressure and temperature; under 20 are too few to say.
        level: confidence level.
    """
    n = np.asarray(cycles, dtype=float)
    low, _ = wilson(short, n, level)
    with np.errstate(invalid="ignore"):
        is_off = low > TOLERATED_SHARE
    return np.select([n == 0, n < FEWEST_CYCLES, is_off], [NOT_RECORDED, TOO_FEW, OUTSIDE], WITHIN)


def standing(verdicts: dict[str, Words], is_holding: Flags, state: Codes) -> Words:
    """Return the standing of chambers checked and in time, the first that applies.

    Args:
        verdicts: bias, scatter and drift.
        is_holding: readings corrected by the line would hold the tolerance.
        state: of the retest.
    """
    is_scattering, is_drifting = verdicts["scatter"] == OUTSIDE, verdicts["drift"] == OUTSIDE
    is_biased = verdicts["bias"] == OUTSIDE
    cases = (
        (is_scattering, "scattering"),
        (is_drifting, "drifting"),
        # A bias that is known explains a bad dose: no retest is asked for.
        (~is_biased & (state == FAILED), "out_of_tolerance"),
        (~is_biased & (state == OPEN), "retest"),
        (is_biased & is_holding, "correctable"),
        (is_biased, "misreading"),
        ((verdicts["bias"] == WITHIN) & (verdicts["scatter"] == WITHIN), "in_tolerance"),
    )
    return np.select([case for case, _ in cases], [word for _, word in cases], "too_few_checks")


def _worded(found: Errors, is_off: Flags, is_in: Flags) -> Words:
    return np.select([~found.is_checked, is_off, is_in], [NOT_RECORDED, OUTSIDE, WITHIN], TOO_FEW)
