"""Numbers for labels, and sums by number."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array

from pipeline.statistics.intervals import Floats

Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]


def numbered(labels: ArrayLike) -> Codes:
    """Return the place of each label among the sorted distinct ones, 0 upwards without gaps."""
    return np.asarray(np.unique(np.asarray(labels), return_inverse=True)[1], dtype=np.int64)


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
