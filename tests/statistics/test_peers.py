"""The place of one reading: a published series, ties below detection, many limits."""

import numpy as np
import pytest

from pipeline.statistics.peers import place


def of(value, values, below, *, is_below=False, wearers=None):
    return place(
        value, is_below=is_below, values=values, below=below,
        wearers=np.ones(len(values), int) if wearers is None else wearers,
    )  # fmt: skip


def test_without_limits_it_is_the_share_counted():
    found = of(3, [1, 2, 3, 3, 4, 5, 6, 7, 8, 9], [False] * 10)
    assert (found.share_below, found.share_up_to) == pytest.approx((0.2, 0.4))
    assert found.share == pytest.approx(0.3)
    assert found.peers == 10
    assert not found.is_tied


def test_oahu_series_reversed_kaplan_meier():
    """Helsel 2012: Oahu arsenic; the shares by hand as products of (1 - d/n) from the top."""
    below = [1] * 8 + [2] * 3 + [0.9] * 4
    seen = [0.5, 0.5, 0.5, 0.6, 0.7, 0.7, 1.5, 1.7, 3.2]
    values = [*below, *seen]
    flags = [True] * len(below) + [False] * len(seen)
    top = 1 - 1 / 24
    at_17 = top * (1 - 1 / 20)  # under 1.7; three limits of 2 lie above
    assert of(3.2, values, flags).share_below == pytest.approx(top)
    assert of(3.2, values, flags).share_up_to == 1
    assert of(1.7, values, flags).share_below == pytest.approx(at_17)
    assert of(1.7, values, flags).share_up_to == pytest.approx(top)


def test_a_reading_below_detection_is_tied_with_all_that_lies_below_its_limit():
    values, flags = [0.5] * 4 + [1, 2, 3, 4, 5, 6], [True] * 4 + [False] * 6
    found = of(0.5, values, flags, is_below=True)
    assert found.is_tied
    assert (found.share_below, found.share_up_to) == (0, pytest.approx(0.4))
    assert found.low < 0.4 < found.high
    high = of(1.5, values, flags, is_below=True)
    assert high.share_up_to == pytest.approx(0.5)


def test_a_reading_among_the_limits_and_under_every_detected_one_is_tied():
    found = of(0.3, [0.5, 0.5, 1, 2], [True, True, False, False])
    assert found.is_tied
    assert found.share_up_to == pytest.approx(0.5)


def test_a_reading_above_every_limit_and_under_every_detected_one_is_not_tied():
    found = of(0.7, [0.5, 0.5, 1, 2], [True, True, False, False])
    assert not found.is_tied
    assert found.share_below == found.share_up_to == pytest.approx(0.5)


def test_peers_all_below_detection():
    flags = [True] * 20
    assert of(0.5, [0.5] * 20, flags, is_below=True).share_up_to == 1
    above = of(2.0, [0.5] * 20, flags)
    assert not above.is_tied
    assert above.share_below == 1


def test_wearers_weigh_a_value_and_no_peers_have_no_place():
    once = of(2, [1, 2, 3], [False] * 3, wearers=[5, 2, 3])
    each = of(2, [1] * 5 + [2] * 2 + [3] * 3, [False] * 10)
    assert once == each
    assert of(2, [], []) is None


def test_limits_are_wilsons_of_the_middle():
    """Newcombe 1998, method 3: 81 of 263 gives .2553 to .3662."""
    values = [1] * 81 + [3] * 182
    found = of(2, values, [False] * 263)
    assert (found.low, found.high) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_the_place_of_a_random_peer_is_even():
    """Simulated truth: log-normal water, three limits; 10 % of readings lie under the 10th."""
    draw = np.random.default_rng(4)
    water = np.exp(draw.normal(0.5, 0.8, 4000))
    limits = draw.choice([0.3, 0.5, 0.9], 4000)
    flags = water < limits
    values = np.where(flags, limits, water)
    for share in (0.4, 0.6, 0.9):
        true = float(np.exp(0.5 + 0.8 * {0.4: -0.2533, 0.6: 0.2533, 0.9: 1.2816}[share]))
        assert of(true, values, flags).share == pytest.approx(share, abs=0.025)
