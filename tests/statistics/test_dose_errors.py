"""Bias, scatter and drift against statsmodels and scipy, and each limit just inside and outside."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from pipeline.statistics import chamber_verdict
from pipeline.statistics.dose_errors import HALF_YEAR_DAYS, Checks, Errors, errors
from pipeline.statistics.retest import FAILED, OPEN, QUIET


def made(age, error, dose=None, *, window=None, chance=None) -> Checks:
    """Checks with the errors asked for, in tolerances; doses of 10 µL unless given."""
    age, error = np.asarray(age), np.asarray(error, dtype=float)
    dose = np.full(age.size, 10.0) if dose is None else np.asarray(dose, dtype=float)
    tolerance = np.maximum(dose / 10, 0.2)
    return Checks(
        np.zeros(age.size, dtype=int) if window is None else np.asarray(window), age, dose,
        dose + error * tolerance, tolerance,
        np.zeros(age.size, dtype=bool) if chance is None else np.asarray(chance),
    )  # fmt: skip


def test_mean_error_has_students_limits_of_its_days():
    draw = np.random.default_rng(1)
    error = draw.normal(0.3, 0.4, 9)
    found = errors(made(np.arange(160, 0, -18), error), 1)
    low, high = stats.t.interval(0.99, 8, error.mean(), stats.sem(error))
    assert found.days.tolist() == [9]
    assert [found.mean[0], found.mean_low[0], found.mean_high[0]] == pytest.approx(
        [error.mean(), low, high]
    )


def test_a_day_counts_once_whatever_was_put_in_on_it():
    age = np.array([150, 120, 120, 120, 90, 60, 30, 0])
    error = np.array([0.0, 3.0, 0.0, -1.5, 0.0, 0.5, 0.0, -0.5])
    found = errors(made(age, error), 1)
    assert found.days.tolist() == [6]
    assert found.mean[0] == pytest.approx(np.mean([0, 0.5, 0, 0.5, 0, -0.5]))


def test_scatter_and_drift_are_those_of_a_regression():
    draw = np.random.default_rng(2)
    age = np.arange(340, 0, -20)
    dose = draw.choice([1.0, 2.0, 5.0, 20.0], age.size)
    error = 0.1 / np.maximum(dose / 10, 0.2) - 0.8 * age / HALF_YEAR_DAYS
    error = error + draw.normal(0, 0.3, age.size)
    found = errors(made(age, error, dose), 1)
    tolerance = np.maximum(dose / 10, 0.2)
    terms = np.stack([dose / tolerance, 1 / tolerance, -age / HALF_YEAR_DAYS], axis=1)
    whole = sm.OLS(error, terms).fit()
    low, high = whole.conf_int(0.001)[2]
    assert [found.drift[0], found.drift_low[0], found.drift_high[0]] == pytest.approx(
        [whole.params[2], low, high]
    )
    late = age < 180
    recent = sm.OLS(error[late], terms[late]).fit()
    sd = np.sqrt(recent.scale)
    freedom = recent.df_resid
    assert found.sd[0] == pytest.approx(sd)
    assert found.sd_low[0] == pytest.approx(sd * np.sqrt(freedom / stats.chi2.ppf(0.99, freedom)))
    best = min(
        (sm.OLS(error[late][keep], terms[late][keep]).fit() for keep in
         (np.arange(late.sum()) != at for at in range(late.sum()))),
        key=lambda fit: fit.ssr,
    )  # fmt: skip
    assert found.sd_low_without_worst[0] == pytest.approx(
        np.sqrt(best.ssr / stats.chi2.ppf(0.9, best.df_resid))
    )


def test_one_dose_alone_leaves_out_the_line():
    age, error = np.arange(150, 0, -20), np.array([0.1, -0.2, 0.3, 0.0, -0.1, 0.2, 0.1, -0.3])
    found = errors(made(age, error), 1)
    fit = sm.OLS(error, sm.add_constant(-age / HALF_YEAR_DAYS)).fit()
    assert found.sd[0] == pytest.approx(np.sqrt(fit.scale))
    assert found.drift[0] == pytest.approx(fit.params[1])


def test_windows_are_judged_apart_and_an_empty_one_is_not_recorded():
    age = np.tile(np.arange(100, 0, -15), 2)
    error = np.r_[np.full(7, 0.0), np.full(7, 2.0)]
    found = errors(made(age, error, window=np.repeat([0, 2], 7)), 3)
    assert chamber_verdict.bias(found).tolist() == ["within", "not_recorded", "outside"]
    assert found.mean[2] == pytest.approx(2)
    none = errors(made([], []), 2)
    assert chamber_verdict.scatter(none).tolist() == ["not_recorded"] * 2


@pytest.mark.parametrize(("days", "verdict"), [(5, "too_few_to_say"), (6, "within")])
def test_six_days_are_needed(days, verdict):
    found = errors(made(np.arange(days)[::-1] * 20, np.tile([0.05, -0.05], 3)[:days]), 1)
    for judge in (chamber_verdict.bias, chamber_verdict.scatter):
        assert judge(found).tolist() == [verdict]


@pytest.mark.parametrize(("span", "verdict"), [(89, "too_few_to_say"), (90, "outside")])
def test_a_drift_needs_ninety_days(span, verdict):
    age = np.round(np.linspace(span, 0, 7)).astype(int)
    found = errors(made(age, -4 * age / HALF_YEAR_DAYS), 1)
    assert chamber_verdict.drift(found).tolist() == [verdict]


@pytest.mark.parametrize(("days_back", "counted"), [(179, 6), (180, 5)])
def test_bias_and_scatter_take_180_days(days_back, counted):
    assert errors(made([days_back, 90, 60, 30, 10, 0], np.zeros(6)), 1).days.tolist() == [counted]


def told(**given) -> Errors:
    """Errors of one window with some numbers given, quiet otherwise."""
    quiet = {
        "is_checked": True, "days": 13, "mean": 0.0, "mean_low": -0.2, "mean_high": 0.2,
        "sd": 0.3, "sd_low": 0.2, "sd_low_without_worst": 0.2, "drift": 0.0, "drift_low": -0.3,
        "drift_high": 0.3,
    }  # fmt: skip
    return Errors(**{name: np.array([value]) for name, value in (quiet | given).items()})


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.5001, 3.0, "outside"), (0.5, 3.0, "too_few_to_say"), (-3.0, -0.5001, "outside"),
        (-3.0, -0.5, "too_few_to_say"), (-1.0, 1.0, "within"), (-1.0001, 0.4, "too_few_to_say"),
        (-0.4, 1.0001, "too_few_to_say"), (0.5001, 0.9, "outside"),
    ],
)  # fmt: skip
def test_limits_of_the_bias(low, high, verdict):
    assert chamber_verdict.bias(told(mean_low=low, mean_high=high)).tolist() == [verdict]


@pytest.mark.parametrize(
    ("low", "rest", "verdict"),
    [(0.511, 0.511, "outside"), (0.51, 0.9, "within"), (0.9, 0.51, "within")],
)
def test_limits_of_the_scatter(low, rest, verdict):
    # 1.96 · .5102 = 1.
    found = told(sd_low=low, sd_low_without_worst=rest)
    assert chamber_verdict.scatter(found).tolist() == [verdict]


@pytest.mark.parametrize(
    ("drift", "low", "high", "verdict"),
    [
        (0.51, 0.001, 1.0, "outside"), (0.5, 0.001, 1.0, "within"), (0.51, 0.0, 1.0, "within"),
        (-0.51, -1.0, -0.001, "outside"), (-0.5, -1.0, -0.001, "within"),
        (np.nan, np.nan, np.nan, "too_few_to_say"),
    ],
)  # fmt: skip
def test_limits_of_the_drift(drift, low, high, verdict):
    found = told(drift=drift, drift_low=low, drift_high=high)
    assert chamber_verdict.drift(found).tolist() == [verdict]


@pytest.mark.parametrize(
    ("short", "cycles", "verdict"),
    [
        (0, 0, "not_recorded"), (19, 19, "too_few_to_say"), (20, 20, "outside"),
        (5, 20, "outside"), (4, 20, "within"), (31, 200, "outside"), (30, 200, "outside"),
        (29, 200, "outside"), (28, 200, "within"),
    ],
)  # fmt: skip
def test_limits_of_the_pump(short, cycles, verdict):
    low = stats.binomtest(short, max(cycles, 1)).proportion_ci(method="wilson").low
    assert chamber_verdict.pump([short], [cycles]).tolist() == [verdict]
    if cycles >= 20:
        assert (low > 0.1) == (verdict == "outside")


QUIET_WORDS = {"bias": "within", "scatter": "within", "drift": "within"}


@pytest.mark.parametrize(
    ("words", "holds", "state", "standing"),
    [
        ({"scatter": "outside", "drift": "outside", "bias": "outside"}, True, FAILED, "scattering"),
        ({"drift": "outside", "bias": "outside"}, True, FAILED, "drifting"),
        ({"bias": "outside"}, True, FAILED, "correctable"),
        ({"bias": "outside"}, False, OPEN, "misreading"),
        ({}, True, FAILED, "out_of_tolerance"), ({}, True, OPEN, "retest"),
        ({"bias": "too_few_to_say"}, True, OPEN, "retest"),
        ({}, False, QUIET, "in_tolerance"),
        ({"drift": "too_few_to_say"}, True, QUIET, "in_tolerance"),
        ({"bias": "too_few_to_say"}, True, QUIET, "too_few_checks"),
        ({"scatter": "too_few_to_say"}, True, QUIET, "too_few_checks"),
        ({"bias": "not_recorded", "scatter": "not_recorded"}, False, QUIET, "too_few_checks"),
    ],
)  # fmt: skip
def test_standing_is_the_first_that_applies(words, holds, state, standing):
    verdicts = {name: np.array([word]) for name, word in (QUIET_WORDS | words).items()}
    found = chamber_verdict.standing(verdicts, np.array([holds]), np.array([state]))
    assert found.tolist() == [standing]


def test_one_bad_dose_is_no_scatter_and_two_are():
    draw = np.random.default_rng(5)
    age = np.arange(168, 0, -14)
    error = draw.normal(0, 0.3, age.size)
    for bad, verdict in (({6: 10.0}, "within"), ({6: 10.0, 9: -9.0}, "outside")):
        given = np.array([bad.get(at, value) for at, value in enumerate(error)])
        assert chamber_verdict.scatter(errors(made(age, given), 1)).tolist() == [verdict]


def test_a_dose_settled_as_chance_tells_of_the_scatter_alone():
    age, error = np.arange(160, 0, -20), np.array([0.1, -0.1, 9.0, 0.1, -0.1, 0.1, -0.1, 0.0])
    chance = error > 1
    found = errors(made(age, error, chance=chance), 1)
    rest = errors(made(age[~chance], error[~chance]), 1)
    assert (found.mean[0], found.drift[0]) == (rest.mean[0], rest.drift[0])
    assert found.sd[0] > 3 > rest.sd[0]
