"""A small run of the simulation of routine drying; the whole one is a module beside it."""

import numpy as np
import pytest

from tests.simulation import routine_drying as simulation

pytestmark = pytest.mark.simulation
SEEDS = 12


@pytest.mark.parametrize(
    ("benefit", "usual", "least", "never"),
    [
        (0.0, "no_effect_shown", 0.75, "helps"),
        (0.10, "helps", 0.9, "may_harm"),
        (0.02, "no_effect_shown", 0.5, "helps"),
        (-0.10, "may_harm", 0.9, "helps"),
    ],
)
def test_a_known_truth_gets_its_verdict(benefit, usual, least, never):
    found = simulation.scenario(benefit, SEEDS)
    assert found[usual] >= least
    assert found[never] == 0
    assert abs(found["bias"]) < 0.01
    assert found["coverage"] >= 0.8


def test_without_a_concurrent_arm_nothing_can_be_told():
    assert simulation.without_arm(0.10, 3) == {"cannot_tell"}


def test_looks_before_the_planned_number_give_no_verdict():
    assert simulation.monthly_looks(2) == (0, 0)


def test_any_positive_change_is_what_noise_gives():
    found = simulation.positive_changes(10)
    assert found == pytest.approx([1 - 0.5**k for k in (1, 2, 3)], abs=0.02)


def test_repeats_give_the_deviation_back():
    near, inside = simulation.repeat_sds(60)
    assert near >= simulation.expected_near() - 0.05
    assert inside == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / 360))
