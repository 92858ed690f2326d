"""A small run of the simulation of contrasts; the full one is `python -m tests.simulation.…`."""

import pytest

from tests.simulation.moisture_contrast import SEVERAL, Design, run

pytestmark = pytest.mark.simulation


@pytest.mark.parametrize(
    "design",
    [Design(10, 60, 1, 0.5, 0.5), Design(20, 20, 3, 0.5, 0.0, SEVERAL, 0.5)],
)
def test_limits_hold_the_true_delta(design):
    held, found = run(design, 250)
    assert 0.92 <= held <= 0.99  # .95, three errors of 250 data sets below
    if design.shift == 0:
        assert found <= 0.09
