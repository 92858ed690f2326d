"""Counts as a rule of disclosure reads them: as arrays, as expressions, by the number of a row."""

import numpy as np
import polars as pl

from pipeline.disclosure.complement import Flags
from pipeline.statistics.intervals import Floats


def numbers(frame: pl.DataFrame, name: str) -> Floats:
    """Return a column as numbers, nan where it is null."""
    return frame[name].cast(pl.Float64).to_numpy()


def is_small(values: Floats, smallest_cell: int) -> Flags:
    """Tell which counts are small: 1 to smallest_cell - 1; nan is not."""
    return np.asarray((values > 0) & (values < smallest_cell))


def is_small_count(count: pl.Expr, smallest_cell: int) -> pl.Expr:
    """Tell which counts are small, as `is_small`; null is not."""
    return count.is_between(1, smallest_cell - 1).fill_null(value=False)


def flags(frame: pl.DataFrame, expression: pl.Expr) -> Flags:
    """Return an expression over the frame as one flag a row."""
    return frame.select(expression.alias("flag"))["flag"].to_numpy().astype(bool)


def rows_of(frame: pl.DataFrame, *columns: str | pl.Expr) -> pl.DataFrame:
    """Return these columns with `row`, the number of the row."""
    return frame.select(*columns, pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
