"""Levels of a covariate for a fit: words that are too rare to be told apart are put together."""

import numpy as np

from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats

FEWEST = 10
TOGETHER = -1


def folded(n: Floats, events: Floats) -> tuple[Codes, Codes]:
    """Give each word a level; level 0, the reference, is the most frequent that is not rare.

    A word with fewer than 10 events, or fewer than 10 observations without one, joins one level
    of rare words, the last; that level joins the reference where it is too rare itself, and so do
    all words where each is rare. Then no coefficient rests on a handful of aids, and no level is
    all events or none by the luck of a few.

    Args:
        n: observations of each word, 0 or more, at least one word.
        events: events of each word, 0 to n.

    Returns:
        The level of each word, and the word that names each level; -1 for the rare together. Of
        equally frequent words the first is the reference; the others keep their order.
    """
    is_rare = _are_few(n, events)
    kept = np.flatnonzero(~is_rare)
    if not kept.size:
        return np.zeros(n.size, dtype=np.int64), np.array([np.argmax(n)])
    reference = kept[np.argmax(n[kept])]
    kept = np.r_[reference, kept[kept != reference]]
    level = np.zeros(n.size, dtype=np.int64)
    level[kept] = np.arange(kept.size)
    if _are_few(n[is_rare].sum(), events[is_rare].sum()):
        return level, kept
    level[is_rare] = kept.size
    return level, np.r_[kept, TOGETHER]


def pooled_levels(word: Codes, n: Floats, events: Floats) -> Codes:
    """Return the level of each row's word, as `folded` gives it.

    Args:
        word: number of each row's word, from 0.
        n: observations of each row, 0 or more.
        events: events of each row, 0 to n.
    """
    words = int(word.max(initial=0)) + 1
    level, _ = folded(summed(word, n, words), summed(word, events, words))
    return level[word]


def _are_few(n: Floats, events: Floats) -> Flags:
    return np.asarray(np.minimum(events, n - events) < FEWEST)
