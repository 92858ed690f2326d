"""Sites far off, set aside from what the others are held against."""

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from pipeline.statistics.groups import Flags

MOST_SET_ASIDE = 1 / 3
FEWEST_OTHERS = 4
Compared = TypeVar("Compared")


def without_furthest(
    compare: Callable[[Flags], Compared], furthest: Callable[[Compared, Flags], Flags], pool: Flags
) -> tuple[Compared, Flags]:
    """Compare sites again and again, each time without the one that was furthest off.

    At most a third of the pool is set aside, and four sites stay.

    Args:
        compare: compares all sites with those of the pool that are not set aside.
        furthest: tells which flagged site is furthest off, given the comparison and the sites set
            aside; none ends it.
        pool: sites that others are held against.

    Returns:
        The last comparison, and the sites set aside.
    """
    aside = np.zeros(pool.size, dtype=bool)
    most = int(pool.sum() * MOST_SET_ASIDE)
    while True:
        found = compare(aside)
        further = furthest(found, aside)
        stay = int((pool & ~aside & ~further).sum())
        if not further.any() or aside.sum() >= most or stay < FEWEST_OTHERS:
            return found, aside
        aside = aside | further
