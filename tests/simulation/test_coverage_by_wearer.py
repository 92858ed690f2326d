"""A small run of the coverage simulation; the full one is `python -m tests.simulation.…`."""

import numpy as np
import pytest

from pipeline.statistics.clusters import adjusted_limits
from pipeline.statistics.intervals import wilson
from tests.simulation.coverage_by_wearer import Design, coverage, designs, summed

pytestmark = pytest.mark.simulation

WEARERS = 40
DATA_SETS = 100  # of eight sites: a share's standard error is below .011, a mean's below .003


@pytest.mark.parametrize(
    "design",
    [
        Design(10, 2, "many", 0.0),
        Design(10, 2, "one", 0.5),
        Design(15, 1, "some", 0.7),
        Design(20, 2, "many", 0.7),
        Design(40, 2, "some", 0.5),
        Design(100, 2, "many", 0.5),
    ],
    ids=str,
)
def test_adjusted_interval_holds_its_level(design):
    found = coverage(design, DATA_SETS)
    for way in ("pooled", "alone"):
        assert 0.93 < found[way].mean() < 0.98
        if design.wearers >= 20:
            assert found[way].min() > 0.9
    if design.correlation:
        assert found["plain"].mean() < 0.93
        # Near 0 and 1 the group's own design effect alone is too small.
        ends = [0, -1]
        assert found["pooled"][ends].mean() > found["without_rule"][ends].mean()


def test_every_design_is_run_once():
    assert len(set(designs())) == len(list(designs())) == 105


def test_independent_aids_need_no_adjustment():
    rng = np.random.default_rng(3)
    sums = summed(np.ones(WEARERS), rng.binomial(1, 0.3, (1500, WEARERS)))
    found = adjusted_limits(sums)
    low, high = wilson(sums.k, sums.n)
    assert found.adjusted_low == pytest.approx(low)
    assert found.adjusted_high == pytest.approx(high)


def worst_step(visits, seed):
    """Return the largest fall of a limit, in shares of one aid, as aids recover at random."""
    rng = np.random.default_rng(seed)
    sizes = rng.choice([1, 2], WEARERS) * (1 + visits * rng.poisson(0.5, WEARERS))
    wearer = rng.permutation(np.repeat(np.arange(WEARERS), sizes))
    total = wearer.size
    recovered = wearer[:, None] == np.arange(WEARERS)
    y = np.vstack([np.zeros(WEARERS), recovered.cumsum(0)])
    sums = summed(sizes, y)
    found = adjusted_limits(sums, icc=0.6)
    assert found.adjusted_low[0] == 0
    assert found.adjusted_high[-1] == 1
    return total * min(np.diff(found.adjusted_low).min(), np.diff(found.adjusted_high).min())


def test_no_limit_falls_as_ears_recover_one_after_another():
    # The own design effect changes with every aid here, unlike in the exact test of the rule.
    assert min(worst_step(False, seed) for seed in range(60)) > -1e-9


def test_with_repeat_visits_a_limit_falls_by_less_than_an_aid():
    # An aid that recovers at a wearer of many visits can make the wearers more alike, so that a
    # limit gives way a little: in some orders, by up to .3 of one aid.
    falls = [worst_step(True, seed) for seed in range(60)]
    assert min(falls) > -0.5
    assert np.mean(np.array(falls) < -1e-9) < 0.15
