"""A small run of the simulation of centiles; the full one is `python -m tests.simulation.…`."""

import pytest

from tests.simulation.moisture_centile import held

pytestmark = pytest.mark.simulation


@pytest.mark.parametrize("wearers", [20, 60])
def test_limits_hold_the_true_centiles(wearers):
    found = held(wearers, 25)
    assert set(found) >= {25, 50, 75}
    for inside, given in found.values():
        assert 0.89 <= inside <= 0.99  # .95, four errors of 200 cells below
        assert given > 0.15
    assert found[50][1] > 0.95
