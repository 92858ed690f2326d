"""Taking numbers out of rows: null, or the state "hidden" where a number carries one."""

from collections.abc import Sequence

import polars as pl

from pipeline.disclosure.complement import Flags
from pipeline.disclosure.counts import flags, is_small_count

STATE = "_state"


def without(frame: pl.DataFrame, hidden: Flags, columns: Sequence[str]) -> pl.DataFrame:
    """Return the frame with these columns hidden in some rows; columns it lacks are passed over.

    Args:
        frame: any table.
        hidden: one flag a row.
        columns: names; one that ends in _state becomes "hidden", the others null.
    """
    is_hidden = pl.Series(hidden)
    return frame.with_columns(
        pl.when(is_hidden)
        .then(pl.lit("hidden") if name.endswith(STATE) else None)
        .otherwise(pl.col(name))
        .alias(name)
        for name in columns
        if name in frame.columns
    )


def whole_rows(frame: pl.DataFrame, smallest_cell: int, count: str = "n") -> pl.DataFrame:
    """Hide the numbers of a row whose count is small, where no row is the sum of others."""
    small = flags(frame, is_small_count(pl.col(count), smallest_cell))
    numbers = [name for name, kind in frame.schema.items() if kind.is_numeric()]
    return without(frame, small, numbers)
