"""Numbers for labels, and sums by number."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array

from pipeline.statistics.intervals import Floats

Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]
CLOSE = 8  # at most so many times as many numbers as labels


def numbered(labels: ArrayLike) -> Codes:
    """Return the place of each label among the sorted distinct ones, 0 upwards without gaps.

    Numbers that lie close need no sorting: a list of those that occur gives their places.
    """
    given = np.asarray(labels)
    if given.size and np.issubdtype(given.dtype, np.integer):
        low, high = int(given.min()), int(given.max())
        if high - low < CLOSE * given.size:
            occurs = np.zeros(high - low + 1, dtype=np.int64)
            occurs[given - low] = 1
            return np.asarray((np.cumsum(occurs) - 1)[given - low])
    return np.asarray(np.unique(given, return_inverse=True)[1], dtype=np.int64)


def summed(code: Codes, values: Floats, groups: int) -> Floats:
    """Return the sum of each group's values.

    Args:
        code: number of each row's group, 0 to groups - 1.
        values: (rows,), or (rows, columns) to sum every column.
        groups: how many groups there are; one without rows has the sum 0.
    """
    if values.ndim == 1:
        return np.bincount(code, values, groups).astype(float)
    rows = np.arange(code.size)
    chosen = csr_array((np.ones(code.size), (code, rows)), shape=(groups, code.size))
    return np.asarray(chosen @ values)
