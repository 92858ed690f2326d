"""Resampling of wearers whose patterns are counted: identical wearers are drawn together."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array

from pipeline.statistics.intervals import Floats

REPLICATES = 400
SEED = 20260701
MOST_DRAWN = 4_000_000


def resampled_cells(
    pattern: ArrayLike,
    cell: ArrayLike,
    n: ArrayLike,
    wearers: ArrayLike,
    cells: int,
    *,
    replicates: int = REPLICATES,
    seed: int = SEED,
) -> Floats:
    """Draw wearers with replacement and count their cells, once a replicate.

    A wearer is drawn whole, with all ears and visits. Wearers with the same pattern are the same
    to the count, so that one multinomial draw over patterns stands for a draw of each of them.

    Args:
        pattern: number of the pattern, 0 to patterns - 1, one element per pattern and cell.
        cell: number of the cell, 0 to cells - 1, of the same length.
        n: how often a wearer of the pattern falls in the cell, of the same length.
        wearers: how many wearers have each pattern, one element per pattern.
        cells: how many cells there are.
        replicates: how many samples to draw.
        seed: seed of the random numbers.

    Returns:
        Array (replicates, cells).

    Source: Field and Welsh 2007, J R Stat Soc B 69:369-390, the cluster bootstrap.
    """
    many = np.asarray(wearers, dtype=np.int64)
    total = int(many.sum())
    if total == 0:
        return np.zeros((replicates, cells))
    where = np.asarray(pattern, dtype=np.int64), np.asarray(cell, dtype=np.int64)
    table = csr_array((np.asarray(n, dtype=float), where), shape=(many.size, cells))
    parts = [drawn @ table for drawn in _draws(many, total, replicates, seed)]
    return np.asarray(np.vstack(parts), dtype=float)


def _draws(wearers: NDArray[np.int64], total: int, replicates: int, seed: int) -> Iterator[Floats]:
    rng = np.random.default_rng(seed)
    step = max(1, MOST_DRAWN // wearers.size)
    for start in range(0, replicates, step):
        size = min(step, replicates - start)
        yield rng.multinomial(total, wearers / total, size=size).astype(float)
