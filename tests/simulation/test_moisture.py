"""A small run of the simulation of medians; the full one is `python -m tests.simulation.…`."""

import pytest

from tests.simulation.moisture import CENSORED, Design, drawn, held, one_curve

pytestmark = pytest.mark.simulation


@pytest.mark.parametrize(
    "design",
    [
        Design(10, 3, 0.7),
        Design(20, 3, 0.5, CENSORED[1]),
        Design(40, 3, 0.5, CENSORED[2]),
        Design(40, 3, 0.5, checks=6),
    ],
)
def test_limits_hold_the_median(design):
    share, given = held(design, 600)
    assert 0.92 <= share <= 0.98
    assert given > 0.9


def test_drawing_ten_wearers_falls_short_where_the_limits_do_not():
    design = Design(10, 3, 0.5)
    assert drawn(design, 300) < 0.92 < held(design, 600)[0]


def test_a_median_that_rests_on_the_limits_of_other_chambers_is_withheld():
    error, withheld = one_curve(60)
    assert error < -5
    assert withheld == 1
