"""One site far off among few: the others are held against those that stay, by hand."""

import numpy as np
import pytest

from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.expected import Alike, Counts
from pipeline.statistics.site_reference import compare_sites
from pipeline.statistics.site_verdict import verdicts


def compared(n, events, is_reference=None):
    """Sites of one pattern, every aid a wearer's own."""
    n, events = np.asarray(n, dtype=float), np.asarray(events, dtype=float)
    sites = n.size
    own, first = np.arange(sites), np.zeros(sites, dtype=np.int64)
    stands = np.ones(sites, dtype=bool) if is_reference is None else np.asarray(is_reference)
    given = Counts(np.empty((1, 0), dtype=np.int64), own, first, n, events, sites, stands)
    twice = np.r_[own, own]
    alike = Alike(np.arange(2 * sites), twice, np.ones(2 * sites),
                  np.r_[np.ones(sites), np.zeros(sites)], np.r_[events, n - events])  # fmt: skip
    poor = np.where(stands, "", "copied_forward")
    return compare_sites(given, alike, poor)


def words(told):
    return verdicts(told.family.z, adjusted_p_values(told.family.p_value), told.reason).tolist()


def test_a_bad_site_is_judged_and_the_others_are_held_against_those_that_stay():
    n, events = [500] * 6, [80, 15, 16, 14, 17, 13]
    told = compared(n, events)
    assert told.is_reference.tolist() == [False] + [True] * 5
    assert words(told) == ["higher_than_expected"] + ["as_expected"] * 5
    assert told.found.expected[0] == pytest.approx(500 * 75 / 2500)
    assert told.found.expected[1] == pytest.approx(500 * (75 - 15) / 2000)
    # The same sites without it expect the same of each other.
    assert compared(n[1:], events[1:]).found.expected == pytest.approx(told.found.expected[1:])


def test_a_site_far_better_is_set_aside_too():
    told = compared([500] * 6, [380, 250, 255, 245, 252, 248])
    assert told.is_reference.tolist() == [False] + [True] * 5
    assert words(told) == ["higher_than_expected"] + ["as_expected"] * 5


def test_equal_sites_all_stay():
    told = compared([500] * 6, [14, 15, 16, 14, 17, 13])
    assert told.is_reference.all()


@pytest.mark.parametrize(("sites", "is_set_aside"), [(9, True), (10, False)])
def test_from_ten_sites_none_is_set_aside(sites, is_set_aside):
    told = compared([500] * sites, [80] + [15] * (sites - 1))
    assert (not told.is_reference[0]) == is_set_aside
    assert words(told)[0] == "higher_than_expected"


def test_at_most_a_third_is_set_aside_and_the_furthest_first():
    assert compared([500] * 6, [200, 150, 90, 15, 16, 14]).is_reference.sum() == 4
    told = compared([500] * 5, [200, 90, 15, 16, 14])
    assert told.is_reference.tolist() == [False, True, True, True, True]


def test_of_nine_sites_three_are_set_aside_and_not_a_fourth():
    told = compared([500] * 9, [250, 200, 150, 100, 15, 16, 14, 15, 16])
    assert told.is_reference.tolist() == [False] * 3 + [True] * 6
    assert words(told)[3] == "higher_than_expected"


def test_with_five_sites_the_others_are_still_judged_though_three_are_left_to_each():
    told = compared([500] * 5, [80, 15, 16, 14, 17])
    assert told.reason.tolist() == [""] * 5
    assert told.found.other_sites.tolist() == [4] * 5


def test_a_site_of_poor_records_is_neither_reference_nor_judged():
    told = compared([500] * 6, [80, 15, 16, 14, 17, 13], [True] * 5 + [False])
    assert told.reason[5] == "copied_forward"
    assert not told.is_reference[5] and not told.is_reference[0]


def test_too_few_aids_are_the_first_reason():
    assert compared([500] * 5 + [29], [15] * 5 + [15], [True] * 5 + [False]).reason[5] == "few_aids"


@pytest.mark.parametrize(("left", "reason"), [([2, 1, 1, 1], ""), ([1, 1, 1, 1], "few_elsewhere")])
def test_half_the_events_must_be_with_the_sites_that_stay(left, reason):
    # Ten events elsewhere for the one parameter; five, or four, once the bad site is set aside.
    told = compared([2_000, 60, 100, 100, 100, 100], [25, 30, *left])
    assert told.is_reference.tolist() == [True, False] + [True] * 4
    assert told.reason[0] == reason
