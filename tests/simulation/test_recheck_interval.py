"""A small run of the recheck simulation; the full one is `python -m tests.simulation.…`."""

import pytest

from tests.simulation.recheck_interval import run

pytestmark = pytest.mark.simulation


def test_the_model_finds_the_days_to_a_tenth_where_a_straight_line_does_not():
    found = run(30, replicates=100)
    assert found["coverage"] >= 0.83  # .95 within three errors of 30 data sets
    assert abs(found["median_of_model"] / found["true_days"] - 1) < 0.1
    assert found["median_of_line"] > 1.35 * found["true_days"]
    assert found["line_within_a_third"] < 0.5 < found["model_within_a_third"]
