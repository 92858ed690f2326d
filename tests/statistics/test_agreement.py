"""Agreement against published kappa, claims against printed limits, many tests at once."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from pipeline.statistics.agreement import agreement, limits_by_wearer
from pipeline.statistics.claims import score_p_value, verdicts
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.intervals import wilson

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "judgements.toml").read_text())


def test_kappa_as_in_textbooks_and_statsmodels():
    cells = CHECKS["kappa"]["cells"]
    found = agreement(*cells)
    assert float(found.kappa) == pytest.approx(CHECKS["kappa"]["kappa"])
    assert float(found.agree) == 0.7
    assert float(found.sensitivity) == pytest.approx(20 / 30)
    assert float(found.specificity) == pytest.approx(15 / 20)
    draw = np.random.default_rng(4)
    for a, b, c, d in draw.integers(1, 40, (20, 4)):
        assert float(agreement(a, b, c, d).kappa) == pytest.approx(
            cohens_kappa([[a, b], [c, d]], return_results=False)
        )


def test_what_cannot_be_told_is_nan():
    found = agreement(0, 0, 0, 7)
    assert float(found.agree) == 1
    assert np.isnan([found.kappa, found.sensitivity]).all()


def test_limits_of_shares_are_wilsons_for_single_aids():
    found = limits_by_wearer(np.eye(4), np.array([80.0, 20, 40, 60]))
    for part, k, n in (("agree", 140, 200), ("sensitivity", 80, 120), ("specificity", 60, 80)):
        assert found[part] == pytest.approx(np.array(wilson(k, n)))


def test_limits_of_kappa_use_the_error_of_statsmodels_for_single_aids():
    low, high = limits_by_wearer(np.eye(4), np.array([8000.0, 2000, 4000, 6000]))["kappa"]
    wanted = cohens_kappa([[8000, 2000], [4000, 6000]])
    half = 1.95996 * wanted.std_kappa / (1 - wanted.kappa)
    ends = 1 - (1 - wanted.kappa) * np.exp([half, -half])
    assert (low, high) == pytest.approx(ends, abs=1e-5)


def test_full_agreement_has_a_lower_limit_of_kappa():
    found = limits_by_wearer(np.eye(4), np.array([20.0, 0, 0, 30]))
    assert found["kappa"][1] == 1
    assert found["kappa"][0] == pytest.approx(1 - (1 - found["agree"][0]) / (1 - 0.52))


def test_ears_that_go_together_widen_the_limits():
    wearers = np.array([40.0, 10, 20, 30])
    single = limits_by_wearer(np.eye(4), 2 * wearers)
    twins = limits_by_wearer(2 * np.eye(4), wearers)
    for part in ("agree", "kappa"):
        assert np.diff(twins[part]) > 1.25 * np.diff(single[part])
    few = limits_by_wearer(np.eye(4), np.array([2.0, 2, 2, 2]))
    assert all(np.isnan(ends).all() for ends in few.values())


def test_a_claim_at_a_limit_has_the_level_as_its_p_value():
    case = CHECKS["claim"]
    found = score_p_value(case["k"] / case["n"], case["n"], case["limits"])
    assert found == pytest.approx([0.05, 0.05], abs=2e-3)


def test_verdicts_on_claims():
    claimed = np.array([0.5, 0.8, 0.2, 0.5, 0.5])
    low, high = np.array([0.45, 0.45, 0.45, 0.3, np.nan]), np.array([0.55, 0.55, 0.55, 0.7, np.nan])
    rate = np.array([0.5, 0.5, 0.5, 0.5, np.nan])
    p_value = np.array([1.0, 1e-6, 1e-6, 1.0, np.nan])
    adjusted, words = verdicts(claimed, rate, low, high, p_value, 0.95)
    assert words == ["consistent", "lower_here", "higher_here", "too_few_to_say", "too_few_to_say"]
    assert np.isnan(adjusted[4])
    weak = verdicts(claimed, rate, low, high, np.array([1, 0.045, 1, 1, np.nan]), 0.95)[1]
    assert weak[1] == "too_few_to_say"


def test_adjusted_p_values_as_published():
    case = CHECKS["false_discovery"]
    adjusted = adjusted_p_values(np.array([*case["p"], np.nan]))
    assert adjusted[:-1] == pytest.approx(case["adjusted"], abs=1e-6)
    assert (adjusted < 0.05).sum() == case["rejected"]
    assert np.isnan(adjusted[-1])
