"""Look at each text of a column once, however many rows hold it.

What an export holds are a few words, codes and rounded numbers, again and again: reading each of
them once and giving every row what was read costs a tenth of reading every cell.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

# Below so many rows the calls cost more than the cells; from so many rows a text on it pays.
LEAST_ROWS = 2_000
ROWS_OF_TEXT = 2


@dataclass(frozen=True)
class Distinct:
    """The texts of a column, and which of them each row holds.

    Attributes:
        texts: each text once, never null; the column as it is where `place` is None.
        place: by row the place of its text, null where it has none.
    """

    texts: pl.Series
    place: pl.Series | None

    def read(self, expression: pl.Expr) -> pl.Series:
        """Return by row what an expression over the column gives; null where a row has no text."""
        made = self.texts.to_frame().select(expression).to_series()
        return made if self.place is None else made.gather(self.place)


def distinct(column: pl.Series) -> Distinct:
    """Tell the texts of a column apart, where that is worth it."""
    if column.len() < LEAST_ROWS:
        return Distinct(column, None)
    texts = column.drop_nulls().unique()
    if texts.len() * ROWS_OF_TEXT > column.len():
        return Distinct(column, None)
    return Distinct(texts, column.cast(pl.Enum(texts)).to_physical())


def read_once(frame: pl.DataFrame, name: str, expression: pl.Expr) -> pl.Series:
    """Return what an expression over one text column gives, under its name."""
    return distinct(frame[name]).read(expression.alias(name))


def read_each(frame: pl.DataFrame, expressions: Mapping[str, pl.Expr]) -> pl.DataFrame:
    """Replace text columns by what an expression over each gives."""
    if frame.height < LEAST_ROWS:
        return frame.with_columns(made.alias(name) for name, made in expressions.items())
    return frame.with_columns(read_once(frame, name, made) for name, made in expressions.items())
