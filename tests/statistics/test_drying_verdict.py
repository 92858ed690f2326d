"""The written rule, in its order."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.statistics.drying_verdict import (
    Bounds,
    Evidence,
    Range,
    allocation,
    decide,
    needed_per_arm,
)

HELPS = Evidence(
    net=Range(0.06, 0.1, 0.14), adjusted=Range(0.05, 0.09, 0.13), filled=Range(0.05, 0.09, 0.13),
    stopped=Range(-0.005, 0.0, 0.005), stopped_interim=Range(-0.008, 0.0, 0.008),
    unknown=Range(-0.01, 0.0, 0.015), clusters=50, order_difference=0.0, is_alternating=True,
    is_interim=False,
)  # fmt: skip
NO_RANGE = Range(np.nan, np.nan, np.nan)
BOUNDS = Bounds(worthwhile=0.05, excess_stopped=0.01, excess_unknown=0.02)
MORE = Range(0.001, 0.01, 0.02)
WIDE = Range(-0.005, 0.004, 0.0101)
BELOW = Range(-0.14, -0.1, -0.06)
WITHIN = Range(-0.02, 0.01, 0.04)


@pytest.mark.parametrize(
    ("changes", "verdict", "rule"),
    [
        ({}, "helps", "net_worthwhile"),
        # Rule 0 comes before everything.
        ({"net": NO_RANGE, "stopped": MORE}, "cannot_tell", "no_concurrent_arm"),
        ({"clusters": 9, "stopped": MORE}, "cannot_tell", "few_clusters"),
        ({"clusters": 10}, "helps", "net_worthwhile"),
        ({"order_difference": 0.11, "stopped": MORE}, "cannot_tell", "order_differs"),
        ({"order_difference": 0.1}, "helps", "net_worthwhile"),
        # Before a planned number, more stopped alone, at its own level.
        ({"is_interim": True}, "cannot_tell", "interim"),
        ({"is_interim": True, "stopped": MORE}, "cannot_tell", "interim"),
        ({"is_interim": True, "net": BELOW}, "cannot_tell", "interim"),
        ({"is_interim": True, "stopped_interim": MORE}, "may_harm", "more_stopped"),
        # Rule 1, whatever the benefit and the allocation.
        ({"stopped": MORE}, "may_harm", "more_stopped"),
        ({"stopped": MORE, "is_alternating": False}, "may_harm", "more_stopped"),
        ({"stopped": Range(0.0, 0.004, 0.008)}, "helps", "net_worthwhile"),
        # Rule 2.
        ({"net": BELOW}, "may_harm", "net_below_zero"),
        ({"net": BELOW, "stopped": WIDE}, "may_harm", "net_below_zero"),
        ({"net": BELOW, "is_alternating": False}, "cannot_tell", "not_alternating_nor_adjusted"),
        ({"net": BELOW, "is_alternating": False, "adjusted": BELOW}, "may_harm", "net_below_zero"),
        # Rule 3, just inside and just outside.
        ({"stopped": WIDE}, "cannot_tell", "stopped_not_settled"),
        ({"stopped": Range(-0.005, 0.004, 0.01)}, "helps", "net_worthwhile"),
        ({"net": WITHIN, "stopped": WIDE}, "cannot_tell", "stopped_not_settled"),
        # Rule 4.
        ({"unknown": MORE}, "cannot_tell", "unassessed_not_settled"),
        ({"unknown": Range(-0.01, 0.01, 0.021)}, "cannot_tell", "unassessed_not_settled"),
        ({"unknown": Range(-0.01, 0.01, 0.02)}, "helps", "net_worthwhile"),
        # Rule 5.
        ({"net": Range(0.001, 0.05, 0.1)}, "helps", "net_worthwhile"),
        ({"net": Range(0.001, 0.049, 0.1)}, "helps_little", "net_below_worthwhile"),
        ({"net": Range(0.017, 0.025, 0.033)}, "helps_little", "net_below_worthwhile"),
        ({"filled": Range(0.0, 0.05, 0.1)}, "cannot_tell", "unmeasured_decide"),
        ({"filled": NO_RANGE}, "cannot_tell", "unmeasured_decide"),
        ({"is_alternating": False}, "helps", "net_worthwhile"),
        ({"is_alternating": False, "adjusted": WITHIN}, "cannot_tell",
         "not_alternating_nor_adjusted"),
        ({"is_alternating": False, "adjusted": NO_RANGE}, "cannot_tell",
         "not_alternating_nor_adjusted"),
        # Rule 6.
        ({"net": WITHIN}, "no_effect_shown", "within_worthwhile"),
        ({"net": WITHIN, "is_alternating": False}, "no_effect_shown", "within_worthwhile"),
        ({"net": Range(0.0, 0.02, 0.04)}, "no_effect_shown", "within_worthwhile"),
        # Rule 7.
        ({"net": Range(-0.05, 0.0, 0.04)}, "cannot_tell", "too_wide"),
        ({"net": Range(-0.02, 0.01, 0.05)}, "cannot_tell", "too_wide"),
    ],
)  # fmt: skip
def test_rule(changes, verdict, rule):
    assert decide(replace(HELPS, **changes), BOUNDS) == (verdict, rule)


def test_allocation():
    weeks = [f"s{i // 10}" for i in range(20)]
    turns = [20, 0] * 10
    assert allocation(weeks, turns, turns[::-1]) == ("alternating", 1.0)
    assert allocation(weeks, [20] * 10 + [0] * 10, [0] * 10 + [20] * 10)[0] == "ad_hoc"
    assert allocation(weeks, [10] * 20, [10] * 20) == ("ad_hoc", 0.5)
    assert allocation([], [], []) == (None, None)


def test_needed_size_gives_the_power():
    given = {
        "worthwhile": 0.05, "assumed": 0.1, "aids_per_wearer": 2, "wearer_correlation": 0.2,
        "aids_per_week": 20, "week_correlation": 0.05,
    }  # fmt: skip
    n = needed_per_arm(0.04, **given)
    effect = 1 + 0.2 + 19 * 0.05
    error = np.sqrt(2 * 0.04 * effect / n)
    draw = np.random.default_rng(1).normal(0.1, error, 200_000)
    assert ((draw - 1.96 * error > 0) & (draw >= 0.05)).mean() >= 0.895
    still = draw - 0.1
    assert (np.abs(still) + 1.96 * error < 0.05).mean() == pytest.approx(0.9, abs=0.01)
    assert needed_per_arm(0.08, **given) == pytest.approx(2 * n, abs=2)
    with pytest.raises(ValueError, match="assumed"):
        needed_per_arm(0.04, **{**given, "assumed": 0.05})
