"""Hiding further numbers, until no hidden small count follows from those that are shown."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.errors import DrytallyError
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import linalg

Flags = NDArray[np.bool_]
FREE = 1e-6


class DisclosureError(DrytallyError):
    """A hidden count follows from the shown ones: a defect; nothing may be shared."""


@dataclass(frozen=True)
class Sums:
    """Relations between rows as sparse matrices, one row of the matrix per relation.

    Fields: signed (1 for a part, -1 for the sum), parts, totals (1 where the row takes that
    place), is_sum (False: two rows share one number).
    """

    signed: csr_array
    parts: csr_array
    totals: csr_array
    is_sum: Flags

    @classmethod
    def of(cls, relations: pl.DataFrame, rows: int) -> "Sums":
        """Build the matrices from a frame as `pipeline.disclosure.relations` returns it."""
        at, code = np.unique(relations["relation"].to_numpy(), return_index=True)
        number = np.searchsorted(at, relations["relation"].to_numpy())
        where = number, relations["row"].to_numpy()
        sign = relations["sign"].to_numpy()
        shape = (at.size, rows)
        return cls(
            csr_array((sign, where), shape=shape),
            csr_array(((sign > 0).astype(float), where), shape=shape),
            csr_array(((sign < 0).astype(float), where), shape=shape),
            relations["is_sum"].to_numpy()[code],
        )


def complement(
    small: Flags,
    relations: pl.DataFrame,
    counts: Sequence[Floats],
    smallest_cell: int,
    also: Flags | None = None,
) -> Flags:
    """Return which rows to hide so that no small one can be worked out.

    A further row is hidden, the smallest first, wherever one hidden row would follow from the
    rest of a sum, wherever the hidden parts of a sum together count 1 to smallest_cell - 1, and
    wherever several sums together would give a small row.

    Args:
        small: rows hidden for themselves.
        relations: sums between rows.
        counts: counts that add up over the parts, one array each, the first of them the size of
            a row; nan counts as 0.
        smallest_cell: least count that may be shown.
        also: rows that are hidden anyway.
    """
    hidden = small.copy() if also is None else small | also
    if relations.is_empty():
        return hidden
    sums = Sums.of(relations, hidden.size)
    numbers = [np.nan_to_num(values) for values in counts]
    while hidden.any():
        exposed = _alone(sums, hidden) | _still_small(sums, hidden, numbers, smallest_cell)
        further = _smallest_shown(sums, exposed, hidden, numbers[0])
        if further.size == 0:
            further = _beside(sums, determined(sums, hidden) & small, hidden, numbers[0])
        if further.size == 0:
            break
        hidden[further] = True
    return hidden


def determined(sums: Sums, hidden: Flags) -> Flags:
    """Tell which hidden rows have one value only that fits every sum of the shown ones.

    Subtraction, repeated and combined: a hidden number is free when some change of the hidden
    numbers that leaves every sum as it is moves it. A random change is projected on those that
    do; what it does not move is fixed.
    """
    system = sums.signed[:, np.flatnonzero(hidden)]
    system = csr_array(system[np.diff(system.indptr) > 0])
    moved = np.random.default_rng(0).uniform(1.0, 2.0, int(hidden.sum()))
    if system.shape[0]:
        for _ in range(2):
            found = linalg.lsmr(system, system @ moved, atol=1e-14, btol=1e-14, maxiter=5000)
            moved = moved - found[0]
    fixed = np.zeros(hidden.size, dtype=bool)
    fixed[np.flatnonzero(hidden)] = np.abs(moved) < FREE
    return fixed


def check(hidden: Flags, values: Floats, sums: pl.DataFrame, smallest_cell: int) -> None:
    """Raise if a hidden small count is the only one that fits the shown counts."""
    if sums.is_empty() or not hidden.any():
        return
    small = (values > 0) & (values < smallest_cell)
    found = determined(Sums.of(sums, hidden.size), hidden) & small
    if found.any():
        raise DisclosureError(
            "Small counts could be worked out from the others.",
            found=f"{int(found.sum())} of {int(hidden.sum())} hidden rows",
            done="No page was written; the warehouse is unchanged.",
        )


def _alone(sums: Sums, hidden: Flags) -> Flags:
    return np.asarray((sums.parts + sums.totals) @ hidden.astype(float) == 1)


def _still_small(sums: Sums, hidden: Flags, counts: Sequence[Floats], smallest_cell: int) -> Flags:
    some = sums.parts @ hidden.astype(float) > 0
    is_known = sums.totals @ hidden.astype(float) == 0
    small = np.zeros(some.size, dtype=bool)
    for values in counts:
        together = sums.parts @ np.where(hidden, values, 0.0)
        small |= (together > 0) & (together < smallest_cell)
    return np.asarray(small & some & is_known & sums.is_sum)


def _smallest_shown(sums: Sums, exposed: Flags, hidden: Flags, size: Floats) -> NDArray[np.int64]:
    """Choose one shown row of each exposed relation."""
    return _chosen(_shown(sums, exposed, hidden, size), "relation")


def _beside(sums: Sums, fixed: Flags, hidden: Flags, size: Floats) -> NDArray[np.int64]:
    """Choose one shown row, over all its relations, for each fixed row."""
    entries = sums.signed.tocoo()
    exposed = abs(sums.signed) @ fixed.astype(float) > 0
    of = pl.DataFrame({"relation": entries.row, "fixed": entries.col}).filter(
        pl.Series(fixed[entries.col])
    )
    return _chosen(_shown(sums, exposed, hidden, size).join(of, on="relation"), "fixed")


def _shown(sums: Sums, exposed: Flags, hidden: Flags, size: Floats) -> pl.DataFrame:
    entries = sums.signed.tocoo()
    frame = pl.DataFrame(
        {"relation": entries.row, "row": entries.col, "is_sum": entries.data < 0}
    ).filter(pl.Series(exposed[entries.row] & ~hidden[entries.col]))
    return frame.with_columns(pl.Series("size", size[frame["row"].to_numpy()]))


def _chosen(candidates: pl.DataFrame, by: str) -> NDArray[np.int64]:
    """Take a part before a sum, one that holds some before an empty one, then the smallest."""
    first = candidates.sort(by, "is_sum", pl.col("size") == 0, "size", "row").unique(
        by, keep="first", maintain_order=True
    )
    return first["row"].unique().to_numpy()
