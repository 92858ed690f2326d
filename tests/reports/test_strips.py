"""One hundred aids: whole, complete, and each drawn once in its state."""

import re
from random import Random

import pytest

from reports.figures.routine_arms import routine_arms
from reports.palette import DARK
from reports.strips import AIDS, NARROW_ROW, SIGNS, WIDE_ROW, State, Strip, whole_aids
from tests.reports import made_up


@pytest.mark.parametrize(
    ("shares", "aids"),
    [
        # Worked by hand: the remainders .5, .3 and .2 give the one aid left to the first.
        ((0.345, 0.333, 0.322), [35, 33, 32]),
        # Equal remainders go to the earlier state.
        ((1 / 3, 1 / 3, 1 / 3), [34, 33, 33]),
        ((1.0, 0.0), [100, 0]),
        ((0.996, 0.004), [100, 0]),
        ((0.994, 0.006), [99, 1]),
        # Shares of another whole are taken of their sum.
        ((2.0, 2.0), [50, 50]),
        # What may not be told is what the others leave.
        ((0.6, None, 0.3), [60, 10, 30]),
        ((0.6, None, None), [60, 40, 0]),
    ],
)
def test_the_largest_remainder_fills_a_hundred(shares, aids):
    assert whole_aids(shares) == aids


def test_whole_aids_add_up_and_stay_within_one_of_their_share():
    """Hamilton's method keeps the quota rule: each state gets its share rounded up or down."""
    draw = Random(4)
    for _ in range(300):
        shares = [draw.random() ** 3 for _ in range(draw.randint(1, 8))]
        aids = whole_aids(shares)
        assert sum(aids) == AIDS
        for share, n in zip(shares, aids, strict=True):
            assert abs(n - 100 * share / sum(shares)) < 1


@pytest.mark.parametrize("shares", [(), (0.0, 0.0), (1.2, -0.2)])
def test_a_strip_of_nothing_or_of_less_than_nothing_is_refused(shares):
    with pytest.raises(ValueError, match="strip"):
        whole_aids(shares)


@pytest.mark.parametrize("length", [WIDE_ROW, NARROW_ROW])
def test_every_aid_is_drawn_once_in_its_state(length):
    shares = (0.31, 0.29, 0.4)
    names = ("disc", "check", "box")
    strip = Strip("", tuple(State(n, n, n, s, 3 + at) for at, (n, s) in
                            enumerate(zip(names, shares, strict=True))))  # fmt: skip
    drawn = re.findall(r'data-row="(\d+)" data-state="(\w+)" data-aids="(\d+)"[^>]* d="([^"]*)"',
                       strip.svg(length))  # fmt: skip
    assert [(row, name, n) for row, name, n, _ in drawn] == [
        ("3", "disc", "31"), ("4", "check", "29"), ("5", "box", "40"),
    ]  # fmt: skip
    places = []
    for _, _, n, path in drawn:
        found = re.findall(r"M([\d.]+),([\d.]+)", path)
        assert len(found) == int(n)
        places += found
    assert len(set(places)) == AIDS
    assert len({y for _, y in places}) == AIDS / length


def test_signs_use_colours_with_a_partner_for_the_dark_page():
    assert {sign.colour for sign in SIGNS.values()} <= set(DARK)
    assert len({sign.path for sign in SIGNS.values()}) >= len(SIGNS) - 1  # disc and ring differ
    # by their filling alone


def test_the_arms_hold_every_aid_in_one_state():
    figure = routine_arms(made_up.frames())
    strips = [panel for panel in figure.panels if panel.form == "strip"]
    assert [strip.heading[:13] for strip in strips] == ["Of 100 dried ", "Of 100 only c"]
    rows = figure.table.to_dicts()
    for strip, arm in zip(strips, ("dried", "cleaned"), strict=True):
        assert sum(strip.aids) == AIDS
        assert sum(state.share for state in strip.states) == pytest.approx(1, abs=0.002)
        for state in strip.states:
            row = rows[state.row]
            assert (row["part"], row["arm"]) == (state.name, arm)
            assert row["share_of_all"] == state.share
    words = next(panel for panel in figure.panels if panel.form == "words")
    assert any(line.startswith("Better: +8.0 (") for line in words.lines)
