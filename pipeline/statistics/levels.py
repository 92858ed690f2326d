"""Levels of a covariate for a fit: words that are too rare to be told apart are put together."""

import numpy as np
from numpy.typing import NDArray

from pipeline.statistics.intervals import Floats

FEWEST = 10


def pooled_levels(word: NDArray[np.int64], n: Floats, events: Floats) -> NDArray[np.int64]:
    """Return a level number for each row; 0 is the level with most observations.

    A word with fewer than 10 events, or fewer than 10 observations without one, joins one level
    of rare words, and that level joins level 0 where it is too rare itself. Then no coefficient
    rests on a handful of aids, and no level is all events or none by the luck of a few.

    Args:
        word: number of each row's word, from 0.
        n: observations of each row, 0 or more.
        events: events of each row, 0 to n.
    """
    size = int(word.max(initial=0)) + 1
    held, happened = np.bincount(word, n, size), np.bincount(word, events, size)
    is_rare = np.minimum(happened, held - happened) < FEWEST
    largest = int(np.argmax(held))
    together = held[is_rare].sum(), happened[is_rare].sum()
    joins_largest = is_rare[largest] or min(together[1], together[0] - together[1]) < FEWEST
    level = np.zeros(size, dtype=np.int64)
    own = [at for at in range(size) if not is_rare[at] and at != largest]
    level[own] = np.arange(1, len(own) + 1)
    level[is_rare] = 0 if joins_largest else len(own) + 1
    return level[word]
