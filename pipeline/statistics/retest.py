"""One bad dose is not yet a fault: what later doses say of it."""

from dataclasses import dataclass

import numpy as np

from pipeline.statistics.groups import Codes, Flags
from pipeline.statistics.intervals import Floats

QUIET, OPEN, FAILED = 0, 1, 2
# An error equal to the tolerance is tolerated.
TOLERATED = 1 + 1e-9
SAME_DOSE = 0.1
DAYS_THAT_CLOSE = 2
NEVER = -1


@dataclass(frozen=True)
class Retests:
    """What is known after each check.

    Attributes:
        state: (n,) `QUIET`, `OPEN` (a bad dose waits for its retest) or `FAILED` (the retest was
            off by more than the tolerance).
        closed_on: (n,) day on which this check's own badness was settled as chance; -1 where it
            was not, or the check was good.
    """

    state: Codes
    closed_on: Codes


def retests(chamber: Codes, day: Codes, dose_ul: Floats, error: Floats) -> Retests:
    """Follow every chamber from check to check.

    A check beyond the tolerance opens a retest. Two further checks of that dose on one day settle
    it: their mean beyond the tolerance has failed, else it is closed. Two later days whose every
    check is within tolerance close it too. A failed retest is closed by a later one alone.

    Args:
        chamber: (n,) the chamber since one service, 0 or more, ascending.
        day: (n,) a number for the day, 0 or more, ascending in a chamber.
        dose_ul: (n,) water put in, above 0; a dose within a tenth of another is the same.
        error: (n,) reading less dose, in tolerances.
    """
    state, closed_on = np.zeros_like(day), np.full_like(day, NEVER)
    if day.size == 0:
        return Retests(state, closed_on)
    first = np.searchsorted(chamber, np.arange(chamber[-1] + 1))
    place = np.arange(day.size) - first[chamber]
    follow = _Follow(int(chamber[-1]) + 1)
    for rows in np.split(np.argsort(place, kind="stable"), np.cumsum(np.bincount(place))[:-1]):
        at = chamber[rows]
        closing = follow.step(at, rows, day[rows], dose_ul[rows], error[rows])
        state[rows] = follow.state[at]
        closed_on[follow.opener[at[closing]]] = day[rows[closing]]
    return Retests(state, closed_on)


class _Follow:
    """Every chamber's state, moved on by one check of each."""

    def __init__(self, chambers: int) -> None:
        self.state = np.zeros(chambers, dtype=np.int64)
        self.opener = np.full(chambers, NEVER)
        self.dose = np.zeros(chambers)
        self.pair_day = np.full(chambers, NEVER)
        self.pair_error = np.zeros(chambers)
        self.good_day = np.full(chambers, NEVER)
        self.good_days = np.zeros(chambers, dtype=np.int64)

    def step(self, at: Codes, rows: Codes, day: Codes, dose: Floats, error: Floats) -> Flags:
        """Take one check of each chamber of `at`; return which of them close a retest."""
        is_bad = np.abs(error) > TOLERATED
        is_waiting = self.state[at] != QUIET
        is_same = is_waiting & (np.abs(dose - self.dose[at]) <= SAME_DOSE * self.dose[at])
        is_second = is_same & (self.pair_day[at] == day)
        is_mean_bad = np.abs(self.pair_error[at] + error) / 2 > TOLERATED
        self._count_good_days(at, day, is_bad)
        closing: Flags = is_second & ~is_mean_bad
        closing |= (
            (self.state[at] == OPEN) & ~is_second & ~is_bad
            & (self.good_days[at] >= DAYS_THAT_CLOSE)
        )  # fmt: skip
        opening = ~is_waiting & is_bad
        self.state[at[closing]] = QUIET
        self.state[at[is_second & is_mean_bad]] = FAILED
        self.pair_day[at] = np.where(is_same & ~is_second, day, NEVER)
        self.pair_error[at] = error
        self._open(at[opening], rows[opening], day[opening], dose[opening])
        # Another dose that fails while one waits is the one to put in again.
        other = (self.state[at] == OPEN) & is_waiting & ~is_same & is_bad
        self.dose[at[other]] = dose[other]
        return closing

    def _count_good_days(self, at: Codes, day: Codes, is_bad: Flags) -> None:
        is_new = self.good_day[at] != day
        self.good_days[at] = np.where(is_bad, 0, self.good_days[at] + is_new)
        self.good_day[at] = day

    def _open(self, at: Codes, rows: Codes, day: Codes, dose: Floats) -> None:
        self.state[at] = OPEN
        self.opener[at] = rows
        self.dose[at] = dose
        self.pair_day[at] = NEVER
        self.good_day[at] = day
        self.good_days[at] = 0
