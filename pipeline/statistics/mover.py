"""Limits of sums, differences and products from limits of their parts (MOVER)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import Floats


@dataclass(frozen=True)
class Limits:
    """Estimates with limits; every field has one element per estimate, nan where unknown."""

    value: Floats
    low: Floats
    high: Floats

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=float))

    def times(self, factor: ArrayLike) -> "Limits":
        """Return the estimates times known numbers of 0 or more."""
        known = np.asarray(factor, dtype=float)
        return Limits(self.value * known, self.low * known, self.high * known)

    def complement(self) -> "Limits":
        """Return 1 minus the estimates."""
        return Limits(1 - self.value, 1 - self.high, 1 - self.low)


def difference(first: Limits, second: Limits) -> Limits:
    """Return first minus second, independent of each other.

    Of two proportions with Wilson's limits this is Newcombe's method 10.

    Source: Zou and Donner 2008, Stat Med 27:1693-1702 (cited from memory).
    """
    value = first.value - second.value
    low = np.hypot(first.value - first.low, second.high - second.value)
    high = np.hypot(first.high - first.value, second.value - second.low)
    return Limits(value, value - low, value + high)


def product(first: Limits, share: Limits) -> Limits:
    """Return the product of an estimate of either sign and an independent share of 0 or more.

    The distances of the factors' own limits, each times the other factor, are squared and added;
    where the estimate is below 0 a larger share makes the product smaller.

    A first-order use of the same rule; its coverage is simulated
    (tests/simulation/repairs_avoided.py).
    """
    value = first.value * share.value
    up, down = share.high - share.value, share.value - share.low
    size, is_up = np.abs(first.value), first.value > 0
    low = np.hypot(share.value * (first.value - first.low), size * np.where(is_up, down, up))
    high = np.hypot(share.value * (first.high - first.value), size * np.where(is_up, up, down))
    return Limits(value, value - low, value + high)
