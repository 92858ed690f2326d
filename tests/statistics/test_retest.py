"""One bad dose opens a retest; later doses close it or let it fail."""

import numpy as np
import pytest

from pipeline.statistics.retest import FAILED, NEVER, OPEN, QUIET, retests


def follow(*checks: tuple[int, float, float]):
    """States and days of settlement of one chamber's (day, dose, error in tolerances)."""
    day, dose, error = (np.array(column) for column in zip(*checks, strict=True))
    found = retests(np.zeros_like(day), day, dose.astype(float), error.astype(float))
    return found.state.tolist(), found.closed_on.tolist()


@pytest.mark.parametrize(
    ("error", "state"),
    [(1.0, QUIET), (-1.0, QUIET), (1.0 + 1e-10, QUIET), (1.0001, OPEN), (-1.0001, OPEN)],
)
def test_a_dose_beyond_the_tolerance_opens_a_retest(error, state):
    assert follow((0, 5, error)) == ([state], [NEVER])


@pytest.mark.parametrize(
    ("second", "state", "closed"), [(0.5, QUIET, 7), (0.5001, FAILED, NEVER), (-3.6, FAILED, NEVER)]
)
def test_two_doses_of_one_day_settle_it_by_their_mean(second, state, closed):
    states, days = follow((0, 5, 4.0), (7, 5, 1.5), (7, 5, second))
    assert states == [OPEN, OPEN, state]
    assert days[0] == closed


def test_two_doses_of_two_days_are_no_retest():
    assert follow((0, 5, 4.0), (7, 5, 1.5), (8, 5, 1.5))[0] == [OPEN] * 3


def test_the_second_dose_of_a_pair_does_not_settle_its_first():
    # One bad dose of a routine pair waits for two more, on the same day or later.
    assert follow((0, 5, 9.0), (0, 5, 0.0))[0] == [OPEN, OPEN]
    assert follow((0, 5, 9.0), (0, 5, 0.0), (0, 5, 0.1)) == ([OPEN, OPEN, QUIET], [0, NEVER, NEVER])


@pytest.mark.parametrize(("dose", "state"), [(5.5, QUIET), (4.5, QUIET), (5.51, OPEN), (4.4, OPEN)])
def test_a_retest_is_of_the_same_dose_within_a_tenth(dose, state):
    assert follow((0, 5, 4.0), (7, dose, 0.0), (7, dose, 0.0))[0][-1] == state


def test_two_later_days_within_tolerance_close_it_and_one_does_not():
    assert follow((0, 5, 4.0), (7, 20, 0.0))[0] == [OPEN, OPEN]
    assert follow((0, 5, 4.0), (7, 20, 0.0), (7, 20, 0.0))[0] == [OPEN] * 3
    states, days = follow((0, 5, 4.0), (7, 20, 0.0), (14, 10, -1.0))
    assert (states, days[0]) == ([OPEN, OPEN, QUIET], 14)
    # A day with one bad check counts for nothing.
    assert follow((0, 5, 4.0), (7, 20, 0.0), (7, 10, 2.0), (14, 20, 0.0))[0] == [OPEN] * 4
    # Nor do good checks of the day of the bad dose.
    assert follow((0, 5, 4.0), (0, 20, 0.0), (7, 20, 0.0))[0] == [OPEN] * 3


def test_a_failed_retest_is_closed_by_a_later_pair_alone():
    failed = ((0, 5, 4.0), (7, 5, 1.5), (7, 5, 1.5))
    quiet_days = ((14, 10, 0.0), (21, 10, 0.0), (28, 10, 0.0))
    assert follow(*failed, *quiet_days)[0][-1] == FAILED
    assert follow(*failed, *quiet_days, (35, 5, 0.2), (35, 5, 0.1))[0][-1] == QUIET


def test_a_closed_retest_can_open_anew():
    assert follow((0, 5, 4.0), (7, 5, 0.0), (7, 5, 0.0), (14, 5, 2.0)) == (
        [OPEN, OPEN, QUIET, OPEN], [7, NEVER, NEVER, NEVER]
    )  # fmt: skip


def test_chambers_are_followed_apart():
    chamber, day = np.array([0, 0, 0, 1, 1, 2]), np.array([0, 7, 7, 0, 7, 0])
    dose, error = np.full(6, 5.0), np.array([4.0, 0.0, 0.0, 0.0, 3.0, 0.0])
    found = retests(chamber, day, dose, error)
    assert found.state.tolist() == [OPEN, OPEN, QUIET, QUIET, OPEN, QUIET]
    assert retests(chamber[:0], day[:0], dose[:0], error[:0]).state.size == 0
