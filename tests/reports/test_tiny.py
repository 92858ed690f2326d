"""Drawings of one value stand where their scale says, and say so where they do not fit."""

import re

import pytest

from reports.tiny import EDGE, TinyScale, interval


@pytest.mark.parametrize(
    ("value", "is_log", "place"),
    [
        # Worked by hand: 110 px between the edges of 5 px; halfway is 60 px.
        (0.4, True, 5.0), (1.0, True, 60.0), (2.5, True, 115.0), (1.45, False, 60.0),
        (9.0, False, 115.0),
    ],
)  # fmt: skip
def test_a_value_stands_on_its_scale(value, is_log, place):
    scale = TinyScale(0.4, 2.5, is_log=is_log)
    assert scale.place(value) == pytest.approx(place)


def test_what_lies_beyond_ends_in_an_arrow_and_has_no_mark():
    scale = TinyScale(0.4, 2.5, is_log=True, reference=1.0)
    within, beyond = interval(scale, 1.2, 0.9, 1.6), interval(scale, 3.0, 0.9, 4.0)
    arrow = re.compile(r"M[\d.]+,5l4,3l-4,3")
    assert not arrow.search(within)
    assert arrow.search(beyond)
    assert within.count('fill="var(--blue)"') == 1
    assert 'fill="var(--blue)"' not in beyond


def test_the_line_reaches_from_limit_to_limit():
    scale = TinyScale(-3.0, 3.0, reference=0.0, band=(-1.0, 1.0))
    line = re.search(r'd="M([\d.]+),8H([\d.]+)"', interval(scale, 0.5, -0.5, 1.5))
    px = (scale.width - 2 * EDGE) / 6
    assert float(line[1]) == pytest.approx(EDGE + 2.5 * px, abs=0.06)
    assert float(line[2]) == pytest.approx(EDGE + 4.5 * px, abs=0.06)
    assert "H" not in interval(scale, 0.5)
