"""The net benefit with stopped and unmeasured aids, against programs we did not write."""

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.statistics.arms import Cells, at_level, stratified_difference
from pipeline.statistics.net_benefit import Outcomes, filled_difference, net_difference


def drawn(seed: int, size: int = 900, stopped=0.1, unmeasured=0.2, blank=0.1) -> dict:
    """Draw aids one by one: 300 wearers in 4 strata, some stopped, some not measured."""
    rng = np.random.default_rng(seed)
    cluster = rng.integers(0, 300, size)
    is_stopped = rng.random(size) < stopped
    is_known = rng.random(size) >= blank
    return {
        "cluster": cluster, "stratum": cluster % 4, "arm": rng.integers(0, 2, size),
        "treated": np.ones(size), "assessed": is_known * 1.0,
        "stopped": (is_known & is_stopped) * 1.0,
        "measured": (is_known & ~is_stopped & (rng.random(size) >= unmeasured)) * 1.0,
        "change": rng.choice([-1.0, 0.0, 1.0], size, p=[0.1, 0.7, 0.2]),
    }  # fmt: skip


def outcomes(aids: dict) -> Outcomes:
    """Put aids together by cluster, stratum and arm, as SQL does."""
    keys, code = np.unique(
        np.stack([aids["cluster"], aids["stratum"], aids["arm"]]), axis=1, return_inverse=True
    )

    def summed(values) -> np.ndarray:
        return np.bincount(code.ravel(), values, keys.shape[1])

    better = aids["measured"] * (aids["change"] > 0)
    worse = aids["measured"] * (aids["change"] < 0)
    return Outcomes(
        *keys, summed(aids["treated"]), summed(aids["assessed"]), summed(aids["stopped"]),
        summed(aids["measured"]), summed(better), summed(worse),
    )  # fmt: skip


def test_with_nothing_stopped_and_all_measured_it_is_the_plain_difference():
    aids = drawn(1, stopped=0, unmeasured=0, blank=0)
    found = net_difference(outcomes(aids))
    plain = stratified_difference(
        Cells(aids["cluster"] * 2 + aids["arm"], aids["stratum"], aids["arm"],
              np.ones(900), aids["change"])
    )  # fmt: skip
    assert found.effect == pytest.approx(plain.effect)
    # statsmodels' least squares on the arm with a level for each stratum gives the same effect.
    design = np.column_stack([aids["arm"], np.eye(4)[aids["stratum"]]])
    assert found.effect == pytest.approx(sm.OLS(aids["change"], design).fit().params[0])
    assert filled_difference(outcomes(aids)).effect == pytest.approx(found.effect)


def by_hand(aids: dict) -> float:
    """Σw(d₁ - d₀)/Σw with d = -s + (1 - s)e, from the definitions, one stratum after another."""
    total, weight = 0.0, 0.0
    for stratum in range(4):
        d, n = [], []
        for arm in (0, 1):
            own = (aids["stratum"] == stratum) & (aids["arm"] == arm)
            known, taken = own & (aids["assessed"] > 0), own & (aids["measured"] > 0)
            s, e = aids["stopped"][known].mean(), aids["change"][taken].mean()
            d.append(-s + (1 - s) * e)
            n.append(known.sum())
        w = n[0] * n[1] / (n[0] + n[1])
        total, weight = total + w * (d[1] - d[0]), weight + w
    return total / weight


@pytest.mark.parametrize("seed", range(3))
def test_the_error_carries_that_of_both_shares(seed):
    aids = drawn(seed)
    found = net_difference(outcomes(aids))
    assert found.effect == pytest.approx(by_hand(aids))
    # The spread over resampled wearers, a method that knows no influence values.
    rng = np.random.default_rng(seed)
    rows_of = [np.flatnonzero(aids["cluster"] == c) for c in range(300)]
    again = []
    for _ in range(300):
        rows = np.concatenate([rows_of[c] for c in rng.integers(0, 300, 300)])
        again.append(by_hand({name: values[rows] for name, values in aids.items()}))
    assert found.standard_error == pytest.approx(np.std(again), rel=0.15)


def test_an_aid_that_stopped_counts_whatever_was_measured():
    aids = drawn(4, stopped=0, unmeasured=0, blank=0)
    first = np.flatnonzero((aids["arm"] == 1) & (aids["change"] == 1))[:20]
    before = net_difference(outcomes(aids)).effect
    aids["stopped"][first], aids["measured"][first] = 1.0, 0.0
    after = net_difference(outcomes(aids)).effect
    assert after == pytest.approx(by_hand(aids))
    assert after < before - 1.5 * 20 / (aids["arm"] == 1).sum()


def test_unmeasured_dried_aids_take_the_cleaned_only_mean():
    aids = drawn(5, stopped=0, unmeasured=0, blank=0)
    aids["change"] = np.where(aids["arm"] == 1, 1.0, 0.0)
    blank = np.flatnonzero(aids["arm"] == 1)[::2]
    aids["assessed"][blank] = aids["measured"][blank] = 0.0
    assert net_difference(outcomes(aids)).effect == pytest.approx(1.0)
    found = filled_difference(outcomes(aids))
    assert found.effect == pytest.approx(0.5, abs=0.02)
    whole = drawn(5, stopped=0, unmeasured=0, blank=0)
    whole["change"] = np.where(aids["arm"] == 1, aids["measured"], 0.0)
    # With a cleaned-only mean of 0 it is as if the unmeasured had stayed the same.
    same = net_difference(outcomes(whole))
    assert found.effect == pytest.approx(same.effect)
    assert found.standard_error == pytest.approx(same.standard_error)


def test_a_stratum_without_a_measured_working_aid_is_left_out_unless_all_stopped():
    aids = drawn(6, blank=0)
    gone = (aids["stratum"] == 3) & (aids["arm"] == 0)
    aids["measured"][gone] = 0.0
    assert net_difference(outcomes(aids)).strata == 3
    aids["stopped"][gone] = 1.0
    assert net_difference(outcomes(aids)).strata == 4
    nobody = drawn(7, blank=1)
    assert np.isnan(net_difference(outcomes(nobody)).effect)
    assert np.isnan(filled_difference(outcomes(nobody)).effect)


def test_what_rounding_leaves_of_no_difference_is_none():
    aids = drawn(8, stopped=0, unmeasured=0, blank=0)
    aids["change"] = np.full(900, 0.0)
    found = net_difference(outcomes(aids))
    assert (found.effect, found.low, found.high) == (0.0, 0.0, 0.0)
    thirds = stratified_difference(
        Cells([1, 2, 3, 4], [0, 0, 0, 0], [0, 1, 0, 1], [3, 3, 7, 7], [0.3, 0.3, 0.7, 0.7])
    )
    assert thirds.effect == 0.0


def test_limits_of_another_level():
    found = net_difference(outcomes(drawn(9)), 0.95)
    wide = net_difference(outcomes(drawn(9)), 0.99)
    again = at_level(found, 0.99)
    assert (again.low, again.high) == pytest.approx((wide.low, wide.high))
    assert wide.low < found.low < found.high < wide.high
