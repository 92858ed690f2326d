"""The line on doses against statsmodels, and its trial on checks that it did not see."""

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.statistics.dosed_line import Dosed, Lines, is_holding, lines


def made(dose, reading, *, window=None, dose_sd=0.0) -> Dosed:
    """Checks of one a day with a tolerance of a tenth or .2 µL."""
    dose, reading = np.asarray(dose, dtype=float), np.asarray(reading, dtype=float)
    return Dosed(
        np.zeros(dose.size, dtype=int) if window is None else np.asarray(window),
        np.arange(dose.size), dose, reading, np.maximum(dose / 10, 0.2), dose_sd * dose,
    )  # fmt: skip


def readings(seed: int) -> tuple[np.ndarray, np.ndarray]:
    draw = np.random.default_rng(seed)
    dose = draw.choice([0.0, 1.0, 2.0, 5.0, 10.0, 20.0], 14)
    return dose, 0.15 + 0.75 * dose * (1 + draw.normal(0, 0.04, 14)) + draw.normal(0, 0.03, 14)


def test_line_and_errors_are_those_of_weighted_least_squares():
    dose, reading = readings(1)
    found = lines(made(dose, reading), 1)
    fit = sm.WLS(reading, sm.add_constant(dose), weights=1 / np.maximum(dose / 10, 0.2) ** 2).fit()
    assert [found.intercept_ul[0], found.slope[0]] == pytest.approx(fit.params)
    assert [found.intercept_se_ul[0], found.slope_se[0]] == pytest.approx(fit.bse)
    cross = fit.cov_params()[0, 1] / fit.bse.prod()
    assert found.correlation[0] == pytest.approx(cross)


def test_each_check_is_corrected_by_the_line_of_the_others():
    dose, reading = readings(2)
    tolerance = np.maximum(dose / 10, 0.2)
    off = []
    for at in np.flatnonzero(dose > 0):
        keep = np.arange(dose.size) != at
        intercept, slope = sm.WLS(
            reading[keep], sm.add_constant(dose[keep]), weights=1 / tolerance[keep] ** 2
        ).fit().params  # fmt: skip
        off.append(((reading[at] - intercept) / slope - dose[at]) / tolerance[at])
    found = lines(made(dose, reading), 1)
    assert found.corrected_rms[0] == pytest.approx(np.sqrt(np.mean(np.square(off))))


def test_windows_stand_apart_and_one_dose_makes_no_line():
    dose, reading = readings(3)
    both = made(np.tile(dose, 2), np.r_[reading, 2 * reading], window=np.repeat([0, 2], dose.size))
    found = lines(both, 3)
    assert found.slope[2] == pytest.approx(2 * found.slope[0])
    assert np.isnan(found.slope[1])
    assert np.isnan(lines(made(np.full(9, 5.0), np.full(9, 4.0)), 1).slope[0])


def test_a_line_that_would_not_rise_without_one_check_holds_nothing():
    dose, reading = np.r_[np.full(8, 5.0), 10.0], np.r_[np.full(8, 4.0), 8.0]
    assert lines(made(dose, reading), 1).corrected_rms[0] == np.inf


@pytest.mark.parametrize(
    ("checks", "doses", "rms", "holds"),
    [(8, 2, 0.607, True), (7, 2, 0.607, False), (8, 1, 0.607, False), (8, 2, 0.608, False),
     (8, 2, np.nan, False), (8, 2, np.inf, False)],
)  # fmt: skip
def test_a_line_holds_the_tolerance(checks, doses, rms, holds):
    # 1.645 · .6079 = 1.
    none = np.array([np.nan])
    given = Lines(none, none, none, none, none, none, np.array([rms]))
    assert is_holding(given, np.array([checks]), np.array([doses])).tolist() == [holds]


def test_repeats_weigh_readings_by_their_scatter_in_tolerances_beside_the_doses_own():
    """Six repeats of each dose on one day; the scatter in tolerances differs from that in µL."""
    draw = np.random.default_rng(5)
    dose = np.repeat([0.5, 5.0, 20.0], 6)
    tolerance = np.maximum(dose / 10, 0.2)
    reading = 0.1 + 0.8 * dose + draw.normal(0, 0.2, dose.size) * tolerance
    day, one = np.repeat([0, 1, 2], 6), np.zeros(dose.size, dtype=int)
    found = lines(Dosed(one, day, dose, reading, tolerance, 0.03 * dose), 1)
    mean = np.repeat(reading.reshape(3, 6).mean(axis=1), 6)
    scatter = (((reading - mean) / tolerance) ** 2).sum() / 15  # 18 readings of 3 doses
    wet = sm.add_constant(dose)
    slope = sm.WLS(reading, wet, weights=1 / tolerance**2).fit().params[1]
    weights = 1 / (scatter * tolerance**2 + (slope * 0.03 * dose) ** 2)
    fit = sm.WLS(reading, wet, weights=weights).fit()
    assert [found.intercept_ul[0], found.slope[0]] == pytest.approx(fit.params)
    assert found.repeatability_sd_ul[0] == pytest.approx(
        np.sqrt(((reading - mean) ** 2).sum() / 15)
    )
