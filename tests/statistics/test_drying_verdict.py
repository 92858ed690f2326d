"""The written rule, in its order."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.statistics.drying_verdict import Evidence, allocation, decide, needed_per_arm

HELPS = Evidence(0.06, 0.1, 0.14, 0.05, 0.13, 50, 0.0, is_alternating=True, is_interim=False)


@pytest.mark.parametrize(
    ("changes", "verdict", "rule"),
    [
        ({}, "helps", "low_above_zero_and_worthwhile"),
        ({"low": -0.14, "effect": -0.1, "high": -0.06}, "may_harm", "high_below_zero"),
        ({"low": 0.01, "effect": 0.03, "high": 0.045}, "no_effect_shown", "within_worthwhile"),
        ({"low": 0.01, "effect": 0.04, "high": 0.07}, "cannot_tell", "too_wide"),
        ({"low": -0.02, "effect": 0.06, "high": 0.14}, "cannot_tell", "too_wide"),
        ({"low": -0.05, "effect": 0.0, "high": 0.04}, "cannot_tell", "too_wide"),
        ({"is_interim": True}, "cannot_tell", "interim"),
        ({"clusters": 9}, "cannot_tell", "few_clusters"),
        ({"order_difference": 0.11}, "cannot_tell", "order_differs"),
        ({"effect": np.nan, "low": np.nan, "high": np.nan}, "cannot_tell", "no_concurrent_arm"),
        ({"is_alternating": False}, "helps", "low_above_zero_and_worthwhile"),
        ({"is_alternating": False, "adjusted_low": -0.01}, "cannot_tell",
         "not_alternating_nor_adjusted"),
        ({"is_alternating": False, "adjusted_low": np.nan}, "cannot_tell",
         "not_alternating_nor_adjusted"),
        ({"is_alternating": False, "low": -0.2, "effect": -0.1, "high": -0.01}, "cannot_tell",
         "not_alternating_nor_adjusted"),
    ],
)  # fmt: skip
def test_rule(changes, verdict, rule):
    assert decide(replace(HELPS, **changes), 0.05) == (verdict, rule)


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
