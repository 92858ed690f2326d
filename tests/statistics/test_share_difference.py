"""The safety difference and the sizes that settle it, against published and counted numbers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm, t

from pipeline.statistics.clusters import design_effect, summed_clusters
from pipeline.statistics.intervals import wilson
from pipeline.statistics.settling import assumed_effect, settling_per_arm, settling_power
from pipeline.statistics.share_difference import ShareCells, share_difference

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "differences.toml").read_text())


def apart(sizes: tuple[int, int], counts: tuple[int, int], per_cluster: int = 1, strata: int = 1):
    """Aids of two arms (0, 1), so many a cluster, the first of each arm with the outcome."""
    parts = []
    for arm in (0, 1):
        at = np.arange(sizes[arm])
        parts.append((at // per_cluster + 1e6 * arm, at % strata, np.full(at.size, arm),
                      np.ones(at.size), (at < counts[arm]) * 1.0))  # fmt: skip
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    return ShareCells(*(column.astype(np.int64) for column in columns[:3]), *columns[3:])


@pytest.mark.parametrize("row", CHECKS["independent"], ids=lambda r: f"{r['x1']}/{r['n1']}")
def test_of_single_aids_it_is_newcombes_interval_on_sizes_paid_for_by_t(row):
    cells = apart((row["n2"], row["n1"]), (row["x2"], row["x1"]))
    found = share_difference({"wearer": cells, "site_week": cells}, 0.95)
    size = [n * (norm.ppf(0.975) / t.ppf(0.975, n - 1)) ** 2 for n in (row["n2"], row["n1"])]
    assert found.effective[0] <= size[0] + 1e-9
    assert found.effective[1] <= size[1] + 1e-9
    # The published limits, of plain sizes, lie inside.
    assert found.low <= row["limits"][0] + 1e-4
    assert found.high >= row["limits"][1] - 1e-4
    assert found.effect == pytest.approx(row["x1"] / row["n1"] - row["x2"] / row["n2"])


def test_large_arms_without_clusters_meet_the_published_method():
    cells = apart((20_000, 20_000), (120, 180))
    found = share_difference({"wearer": cells}, 0.95)
    p1, p0 = 0.009, 0.006
    (l1, u1), (l0, u0) = wilson(180, 20_000), wilson(120, 20_000)
    by_hand = (p1 - p0 - np.hypot(p1 - l1, u0 - p0), p1 - p0 + np.hypot(u1 - p1, p0 - l0))
    assert (found.low, found.high) == pytest.approx(by_hand, rel=0.01)


def test_at_no_event_pairs_of_ears_count_for_less():
    alone = share_difference({"wearer": apart((600, 600), (0, 0))}, 0.95)
    pairs = share_difference({"wearer": apart((600, 600), (0, 0), per_cluster=2)}, 0.95)
    assert (alone.effect, alone.low < 0 < alone.high) == (0.0, True)
    # 1 + .1·(2 - 1): a tenth off the size, and t on 299 wearers.
    expected = 600 / 1.1 * (norm.ppf(0.975) / t.ppf(0.975, 299)) ** 2
    assert pairs.effective[1] == pytest.approx(expected)
    assert pairs.high == pytest.approx(wilson(0, expected)[1])
    assert pairs.high > alone.high


@pytest.mark.parametrize(("events", "rests_on_own"), [(8, False), (9, False), (10, True)])
def test_from_ten_events_on_the_own_design_effect_counts(events, rests_on_own):
    # Each event in a wearer of its own: the own design effect is 1 or less.
    n = np.full(300, 2.0)
    y = np.where(np.arange(300) < events, 1.0, 0.0)
    own = float(design_effect(summed_clusters(n, y))[0])
    cells = ShareCells(
        np.tile(np.arange(300), 2) + np.repeat([0, 1000], 300), np.zeros(600, np.int64),
        np.repeat([0, 1], 300), np.tile(n, 2), np.tile(y, 2),
    )  # fmt: skip
    found = share_difference({"wearer": cells}, 0.95)
    pay = (norm.ppf(0.975) / t.ppf(0.975, 299)) ** 2
    used = 600 * pay / found.effective[1]
    assert used == pytest.approx(max(1.0, own) if rests_on_own else 1.1)


def test_the_kind_of_cluster_with_the_smaller_size_counts():
    wearer, week = (apart((600, 600), (0, 0), per_cluster=k) for k in (2, 60))
    both = share_difference({"wearer": wearer, "site_week": week}, 0.95)
    alone = share_difference({"site_week": week}, 0.95)
    assert both.high == alone.high
    assert both.high > share_difference({"wearer": wearer}, 0.95).high


def test_strata_weigh_and_those_with_one_arm_are_left_out():
    cells = ShareCells(
        np.arange(7), np.array([0, 0, 1, 1, 2, 0, 1]), np.array([0, 1, 0, 1, 1, 1, 0]),
        np.array([100.0, 60, 50, 50, 400, 40, 50]), np.array([5.0, 6, 0, 5, 400, 4, 10]),
    )  # fmt: skip
    found = share_difference({"wearer": cells}, 0.95)
    w = np.array([100 * 100 / 200, 100 * 50 / 150])
    assert found.sizes == (200, 150)
    assert found.counts == (15, 15)
    assert found.share[1] == pytest.approx((w * [0.1, 0.1]).sum() / w.sum())
    assert found.share[0] == pytest.approx((w * [0.05, 0.1]).sum() / w.sum())
    one = ShareCells(*(values[:1] for values in vars(cells).values()))
    assert np.isnan(share_difference({"wearer": one}, 0.95).effect)


@pytest.mark.parametrize(("background", "power"), [(0.0, 0.9), (0.003, 0.9), (0.005, 0.8)])
def test_the_size_settles_safety_as_often_as_asked(background, power):
    size = settling_per_arm(background, 0.01, power=power)
    # Drawn, not summed: independent of the sums that found the size.
    draw = np.random.default_rng(3).binomial(size, background, (2, 100_000)) / size
    low, high = wilson(draw * size, size)
    upper = draw[1] - draw[0] + np.hypot(high[1] - draw[1], draw[0] - low[0])
    settled = (upper <= 0.01).mean()
    assert settled >= power - 0.005
    assert settling_power(size, background, 0.01) == pytest.approx(settled, abs=0.005)
    smaller = settling_power(int(0.9 * size), background, 0.01)
    assert smaller < power


def test_sizes_grow_with_the_background_and_with_clusters():
    sizes = [settling_per_arm(b, 0.01) for b in (0.0, 0.003, 0.005, 0.01)]
    assert sizes == sorted(sizes)
    assert settling_per_arm(0.003, 0.01, effect=1.3) == pytest.approx(1.3 * sizes[1], rel=0.01)
    assert assumed_effect(2, 20) == pytest.approx(1.29)
    assert assumed_effect(1, 1) == 1
    with pytest.raises(ValueError, match="background"):
        settling_per_arm(1.0, 0.01)
    with pytest.raises(ValueError, match="million"):
        settling_per_arm(0.3, 0.0005)
