"""A hundred aids: whole aids that sum to 100, each drawn once."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.figure import StripState
from reports.strips import SIGNS, hundred, strip_svg


def test_largest_remainder_by_hand():
    # The votes of the usual textbook example of Hamilton's method (from memory), for 100 seats:
    # quotas 47, 16, 15.8, 12, 6.1 and 3.1, so the one seat left over goes to 15.8.
    votes = {"yellows": 47_000, "whites": 16_000, "reds": 15_800, "greens": 12_000,
             "blues": 6_100, "pinks": 3_100}  # fmt: skip
    assert hundred(votes) == {"yellows": 47, "whites": 16, "reds": 16, "greens": 12, "blues": 6,
                              "pinks": 3}  # fmt: skip


def test_equal_remainders_go_to_the_first_named():
    assert hundred({"a": 1, "b": 1, "c": 1}) == {"a": 34, "b": 33, "c": 33}


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=8).filter(any))
def test_whole_aids_sum_to_a_hundred_and_stay_within_one_of_their_share(counts):
    found = hundred({str(i): n for i, n in enumerate(counts)})
    assert sum(found.values()) == 100
    for i, n in enumerate(counts):
        assert abs(found[str(i)] - 100 * n / sum(counts)) < 1


@pytest.mark.parametrize("counts", [{"a": 0}, {"a": 3, "b": -1}])
def test_no_aids_give_no_strip(counts):
    with pytest.raises(ValueError, match="needs aids"):
        hundred(counts)


@pytest.mark.parametrize("columns", [50, 20])
def test_every_aid_is_drawn_once(columns):
    states = [
        StripState("clean", "c", "works_cleaned", 34),
        StripState("dry", "d", "works_dried", 0),
        StripState("gone", "g", "replaced", 66),
    ]
    svg = strip_svg(states, columns)
    drawn = re.findall(r'data-state="(\w+)" d="([^"]+)"', svg)
    assert [(name, path.count("M")) for name, path in drawn] == [("clean", 34), ("gone", 66)]
    places = [place for _, path in drawn for place in re.findall(r"M(\d+),(\d+)", path)]
    assert len(set(places)) == 100
    with pytest.raises(ValueError, match="hundred"):
        strip_svg(states[:1])


def test_signs_differ_in_shape_and_not_in_colour_alone():
    shapes = [(sign.shape, sign.upon) for sign in SIGNS.values()]
    assert len(shapes) == len(set(shapes))
