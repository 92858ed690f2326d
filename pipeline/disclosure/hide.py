"""Taking numbers out of rows: null, or the state "hidden" where a number carries one."""

from collections.abc import Sequence

import polars as pl

from pipeline.disclosure.complement import Flags

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
