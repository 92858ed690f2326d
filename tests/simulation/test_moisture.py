"""A small run of the simulation of medians; the full one is `python -m tests.simulation.…`."""

import pytest

from tests.simulation.moisture import (
    CENSORED,
    MECHANISMS,
    Design,
    bounded,
    drawn,
    held,
    one_curve,
)

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
    # Where limits of detection reach the median, sites without a value drop out: wider than needed.
    assert 0.92 <= share <= (0.995 if design.limits else 0.98)
    assert given > 0.8


def test_drawing_ten_wearers_falls_short_where_the_limits_do_not():
    design = Design(10, 3, 0.5)
    assert drawn(design, 300) < 0.92 < held(design, 600)[0]


def test_bounds_hold_the_median_where_one_curve_for_all_is_off():
    found = one_curve(60)
    assert found["bias"] < -5
    assert found["held"] == 1
    assert found["worst"] <= 100  # a value lies within a factor of two of the truth, whatever


@pytest.mark.parametrize("mechanism", MECHANISMS)
def test_bounds_hold_every_quantile_however_limits_go_with_readings(mechanism):
    held, value, error = bounded(60)[mechanism]
    assert held == 1
    assert value > 0.3
    assert error < 0.5
