"""A short, seeded run of the simulation of sites: equal sites are left alone, a worse one found."""

import numpy as np
import pytest

from tests.simulation.site_comparison import compared, made, run

pytestmark = pytest.mark.simulation


def test_equal_sites_of_different_mix_are_seldom_flagged():
    found = run(12, 25)
    assert found["judged"] > 11
    assert found["rate_sd"] > 0.08
    assert found["false_flags"] <= 0.2


def test_few_sites_are_too_few_to_say():
    found = run(4, 8)
    assert (found["judged"], found["false_flags"]) == (0, 0)


def test_a_worse_site_is_found_and_the_others_are_left_alone():
    found = run(12, 25, has_worse=True)
    assert found["found"] >= 0.7
    assert found["false_flags"] <= 0.3


def test_the_same_seed_gives_the_same_words():
    first, second = (compared(made(6, np.random.default_rng(9))) for _ in range(2))
    assert first.words.tolist() == second.words.tolist()
