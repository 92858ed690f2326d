"""The number that must be treated for one more benefit."""

from dataclasses import dataclass

import numpy as np

SMALLEST = 1e-6


@dataclass(frozen=True)
class NumberNeeded:
    """How many must be treated for one more benefit, or for one more harm.

    Fields: kind ("benefit" or "harm"), number, nearest and farthest (its limits; farthest is
    None where the interval holds 0 and so reaches infinity), other (where the interval holds 0:
    the number at its far end, of the other kind).
    """

    kind: str
    number: float
    nearest: float
    farthest: float | None
    other: float | None

    def words(self) -> str:
        """Say it so that an interval through zero cannot be read as two plain limits."""
        if self.farthest is not None:
            return (
                f"{_count(self.number)} for one {self.kind} ({_count(self.nearest)} to "
                f"{_count(self.farthest)})"
            )
        opposite = "harm" if self.kind == "benefit" else "benefit"
        end = f" to {self.other:.0f} for one {opposite}" if self.other is not None else ""
        return (
            f"{self.number:.0f} for one {self.kind}; the interval runs from {self.nearest:.0f} for"
            f" one {self.kind} through infinity{end}"
        )


def _count(number: float) -> str:
    """Print a number needed: whole from 10 on, where tenths say nothing."""
    return f"{number:.0f}" if number >= 10 else f"{number:.1f}"


def number_needed(effect: float, low: float, high: float) -> NumberNeeded | None:
    """Return the number needed from a difference and its limits; None where there is none.

    There is none for a difference, or for the nearer limit, of under one in a million: what
    rounding leaves of 0 would print as a huge number.

    Source: Altman 1998, BMJ 317:1309-1312.
    """
    if not np.isfinite([effect, low, high]).all() or abs(effect) < SMALLEST:
        return None
    kind = "benefit" if effect > 0 else "harm"
    near, far = (high, low) if effect > 0 else (-low, -high)
    if near < SMALLEST:
        return None
    if far > SMALLEST:
        return NumberNeeded(kind, 1 / abs(effect), 1 / near, 1 / far, None)
    other = -1 / far if far < -SMALLEST else None
    return NumberNeeded(kind, 1 / abs(effect), 1 / near, None, other)
