"""Limits for clustered rates: published litters, the rules at the ends, no limit that decreases."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.statistics.clusters import (
    ClusterSums,
    adjusted_limits,
    design_effect,
    icc_pooled,
    rates_if_missing,
)
from pipeline.statistics.intervals import wilson

CHECKS = tomllib.loads(
    (Path(__file__).parents[1] / "checks" / "statistics.toml").read_text(encoding="utf-8")
)


def sums_of(*groups):
    """Sum over clusters; a group is (observations, events) by cluster."""
    pairs = [(np.asarray(n, float), np.asarray(y, float)) for n, y in groups]
    return ClusterSums(
        n=[n.sum() for n, _ in pairs],
        k=[y.sum() for _, y in pairs],
        clusters=[n.size for n, _ in pairs],
        sum_nn=[(n * n).sum() for n, _ in pairs],
        sum_yy=[(y * y).sum() for _, y in pairs],
        sum_ny=[(n * y).sum() for n, y in pairs],
        sum_yy_per_n=[(y * y / n).sum() for n, y in pairs],
    )


def test_litters_as_korn_and_graubard_with_wilson():
    rows = CHECKS["litters"]
    sums = sums_of(*((row["n"], row["y"]) for row in rows))
    found = adjusted_limits(sums, small_sample_rule=False)
    assert found.design_effect == pytest.approx([r["design_effect"] for r in rows], abs=1e-6)
    assert found.n_effective == pytest.approx([r["n_effective"] for r in rows], abs=1e-4)
    limits = np.column_stack([found.adjusted_low, found.adjusted_high])
    assert limits == pytest.approx(np.array([row["limits"] for row in rows]), abs=1e-6)


def test_few_clusters_borrow_the_pooled_correlation():
    # Both have 16 litters. The pooled correlation lowers the effective size of the quiet group
    # and leaves that of the other, whose own is smaller.
    sums = sums_of(*((row["n"], row["y"]) for row in CHECKS["litters"]))
    icc = icc_pooled(sums)[0]
    found = adjusted_limits(sums, icc)
    alone = adjusted_limits(sums, small_sample_rule=False)
    pooled = sums.n / (1 + icc * (sums.sum_nn / sums.n - 1))
    assert pooled[0] < alone.n_effective[0]
    assert pooled[1] > alone.n_effective[1]
    assert found.n_effective == pytest.approx([pooled[0], alone.n_effective[1]])
    assert (found.design_effect == alone.design_effect).all()


def test_correlation_equals_analysis_of_variance_by_hand():
    # Two pairs alike, two split: between Σy²/n - k²/n = (4 + 0 + 1 + 1)/2 - 16/8 = 1 on 3,
    # within Σy - Σy²/n = 4 - 3 = 1 on 4.
    sums = sums_of(([2, 2, 2, 2], [2, 0, 1, 1]))
    between, within = 1 / 3, 1 / 4
    assert icc_pooled(sums) == pytest.approx((between - within) / (between + within))


def test_pairs_alike_correlate_fully_and_pairs_split_not_at_all():
    alike, split = ([2] * 6, [2, 0] * 3), ([2] * 6, [1] * 6)
    assert icc_pooled(sums_of(alike, split), ["a", "b"]) == pytest.approx([1, 0])


def test_correlation_is_unknown_where_nothing_tells():
    singles, same, one = ([1] * 5, [1, 0, 1, 0, 0]), ([2] * 5, [2] * 5), ([3], [1])
    found = icc_pooled(sums_of(singles, same, one), [1, 2, 3])
    assert np.isnan(found).all()


def test_correlation_keeps_each_sites_own_rate():
    # One site always succeeds and one never does: the wearers within a site do not differ.
    sums = sums_of(([2] * 9, [2] * 8 + [1]), ([2] * 9, [0] * 8 + [1]))
    assert icc_pooled(sums)[0] == 0
    both = sums_of(([2] * 18, [2] * 8 + [1] + [0] * 8 + [1]))
    assert icc_pooled(both)[0] > 0.7


def test_clusters_of_one_leave_the_sample_as_it_is():
    n, k = 30, 12
    found = adjusted_limits(sums_of(([1] * n, [1] * k + [0] * (n - k))), icc=0.9)
    assert found.n_effective == n
    assert (found.adjusted_low, found.adjusted_high) == wilson([k], [n])


def test_one_wearer_has_no_limits():
    found = adjusted_limits(sums_of(([4], [2]), ([1], [1])), icc=0.5)
    for values in (found.design_effect, found.n_effective, found.adjusted_low, found.adjusted_high):
        assert np.isnan(values).all()


def test_nothing_observed_has_no_limits():
    zero = ClusterSums(*([0.0] for _ in range(7)))
    found = adjusted_limits(zero, icc=0.5)
    assert np.isnan(found.adjusted_low).all()
    assert np.isnan(found.design_effect).all()
    assert np.isnan(icc_pooled(zero)).all()


@pytest.mark.parametrize("outcome", [0, 1])
def test_rates_of_nought_and_one_lose_independence_too(outcome):
    n = [2] * 40
    sums = sums_of((n, [outcome * 2] * 40))
    found = adjusted_limits(sums, icc=0.6)
    assert np.isnan(found.design_effect[0])
    assert found.n_effective[0] == pytest.approx(80 / 1.6)
    exact = found.adjusted_high if outcome else found.adjusted_low
    assert exact[0] == outcome


def test_unknown_correlation_counts_a_wearer_as_one_observation():
    sums = sums_of(([2] * 40, [2] * 40))
    found = adjusted_limits(sums, icc=np.nan)
    assert found.n_effective[0] <= 40


def test_effective_sample_is_never_larger_than_the_sample():
    split = sums_of(([2] * 60, [1] * 60))
    found = adjusted_limits(split, icc=0.0)
    assert design_effect(split)[0] == 0
    assert found.n_effective[0] == 120


@settings(max_examples=200)
@given(
    singles=st.integers(0, 60),
    pairs=st.integers(1, 60),
    fours=st.integers(0, 15),
    own=st.floats(0.3, 4),
    icc=st.floats(0, 1),
)
def test_limits_never_decrease_in_k(singles, pairs, fours, own, icc):
    # Same cluster sizes and same own design effect for every k from 0 to n: sum_yy is chosen so.
    m, n = singles + pairs + fours, singles + 2 * pairs + 4 * fours
    if m < 2:
        return
    k = np.arange(n + 1.0)
    nn = np.full(n + 1, float(singles + 4 * pairs + 16 * fours))
    share = k / n
    ny = share * nn
    squares = own * n * share * (1 - share) * (m - 1) / m
    yy = squares + 2 * share * ny - share**2 * nn
    sums = ClusterSums(np.full(n + 1, float(n)), k, np.full(n + 1, float(m)), nn, yy, ny, yy)
    inner = (k > 0) & (k < n)
    assert design_effect(sums)[inner] == pytest.approx(own)
    found = adjusted_limits(sums, icc)
    assert (np.diff(found.adjusted_low) >= -1e-12).all()
    assert (np.diff(found.adjusted_high) >= -1e-12).all()
    assert found.adjusted_low[0] == 0
    assert found.adjusted_high[-1] == 1
    assert ((found.adjusted_low <= share + 1e-12) & (share <= found.adjusted_high + 1e-12)).all()


def test_bounds_if_the_unassessed_failed_or_were_rescued():
    failed, rescued = rates_if_missing([60, 0, 0], [80, 0, 0], [20, 5, 0])
    assert failed[:2] == pytest.approx([0.6, 0])
    assert rescued[:2] == pytest.approx([0.8, 1])
    assert np.isnan([failed[2], rescued[2]]).all()


@pytest.mark.parametrize(("events", "is_own"), [(9, False), (10, True)])
def test_ten_events_and_twenty_clusters_tell_a_design_effect_of_ones_own(events, is_own):
    """Under ten, the pooled likeness of ears counts where it is the larger."""
    pairs = np.full(200, 2.0), np.r_[np.ones(events), np.zeros(200 - events)]
    for sums, is_enough in (
        (sums_of(pairs), is_own),
        (sums_of((pairs[0], 2 - pairs[1])), is_own),
        (sums_of((np.full(19, 20.0), np.full(19, 10.0) + np.resize([1, -1], 19))), False),
        (sums_of((np.full(20, 20.0), np.full(20, 10.0) + np.resize([1, -1], 20))), True),
    ):
        alone, pooled = (float(adjusted_limits(sums, correlation).n_effective[0])
                         for correlation in (0.0, 0.9))  # fmt: skip
        assert (alone == pooled) == is_enough
