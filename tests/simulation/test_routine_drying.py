"""A small run of the simulation of routine drying; the whole one is a module beside it."""

import numpy as np
import pytest

from tests.simulation import routine_drying as simulation
from tests.simulation.repeat_deviation import expected_near, repeat_sds
from tests.simulation.routine_drying import World

pytestmark = pytest.mark.simulation
SEEDS = 12


@pytest.mark.parametrize(
    ("world", "usual", "least", "never"),
    [
        (World(1000), ("no_effect_shown",), 0.6, ("helps", "may_harm")),
        (World(600, benefit=0.10), ("helps",), 0.8, ("may_harm",)),
        (World(2000, benefit=0.03), ("helps_little", "no_effect_shown"), 0.8, ("may_harm",)),
        (World(600, benefit=-0.10), ("may_harm",), 0.8, simulation.BENEFIT),
    ],
)  # fmt: skip
def test_a_known_truth_gets_its_verdict(world, usual, least, never):
    found = simulation.scenario(world, SEEDS)
    assert found.of(*usual) >= least
    assert found.of(*never) == 0
    assert abs(found.bias) < 0.015
    assert found.coverage >= 0.75


@pytest.mark.parametrize("stopped", [0.03, 0.06, 0.12])
@pytest.mark.parametrize("benefit", [0.0, 0.08])
def test_aids_that_drying_stops_are_never_passed_over(stopped, benefit):
    found = simulation.scenario(World(600, stopped=stopped, benefit=benefit), SEEDS // 2)
    assert found.of(*simulation.BARRED) == 0
    assert found.of("may_harm") >= 0.8


def test_half_of_the_stopped_left_blank_are_not_passed_over_either():
    world = World(600, stopped=0.06, benefit=0.08, blank_stopped=0.5, blank_other=0.02)
    assert simulation.scenario(world, SEEDS // 2).of(*simulation.BARRED) == 0


def test_without_a_concurrent_arm_nothing_can_be_told():
    assert simulation.without_arm(World(benefit=0.10), 3) == {"cannot_tell"}


def test_looks_before_the_planned_number_say_nothing_but_more_stopped():
    early, at_last = simulation.monthly_looks(World(benefit=0.10), 1)
    assert set(early) == {"cannot_tell"}
    assert at_last == {"helps": 1}
    early, at_last = simulation.monthly_looks(World(stopped=0.12), 1)
    assert set(early) <= {"cannot_tell", "may_harm"}
    assert early["may_harm"] > 0
    assert at_last == {"may_harm": 1}


def test_any_positive_change_is_what_noise_gives():
    found = simulation.positive_changes(10)
    assert found == pytest.approx([1 - 0.5**k for k in (1, 2, 3)], abs=0.02)


def test_repeats_give_the_deviation_back():
    near, inside = repeat_sds(60)
    assert near >= expected_near() - 0.05
    assert inside == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / 360))
