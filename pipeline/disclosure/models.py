"""Small counts beside fitted curves, and what the differences of shown totals would reveal."""

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import complement

TOLD = ("delay_not_recorded", "not_assessed")


def delay(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide a small model of `rescue_by_delay` whole, and small counts beside a large one.

    A curve rests on all aids of its model together, so it shows none of them. Where few aids were
    left out, the number of aids in the model goes with them: the rates by delay tell the total.
    """
    n, k, wearers = pl.col("n"), pl.col("rescued"), pl.col("wearers")
    small = (
        _small(n, smallest_cell) | _small(k, smallest_cell) | _small(n - k, smallest_cell)
        | _small(wearers, smallest_cell)
    )  # fmt: skip
    few_left = pl.any_horizontal(_small(pl.col(name), smallest_cell) for name in TOLD)
    counts = (*TOLD, "n", "rescued")
    curve = [name for name in frame.columns if name not in {"definition", "delay_hours"}]
    return frame.with_columns(
        pl.when(~(small | few_left) if name in counts else ~small).then(pl.col(name)).alias(name)
        for name in curve
    )


def coefficients(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small levels of `rescue_model`; the levels of a factor add up to the model's aids.

    The model's aids are told beside its curve, so that a level alone in its factor is known.
    """
    by = ["definition", "factor"]
    rows = frame.select(*by, pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
    n, k = (np.nan_to_num(frame[name].cast(pl.Float64).to_numpy()) for name in ("n", "rescued"))
    small = np.zeros(frame.height, dtype=bool)
    for values in (n, k, n - k, np.nan_to_num(frame["clusters"].cast(pl.Float64).to_numpy())):
        small |= (values > 0) & (values < smallest_cell)
    # Clusters of a factor that does not vary within a site are sites, not people.
    small &= ~(frame["basis"] == "sites").to_numpy() | (n < smallest_cell) | (k < smallest_cell)
    hidden = pl.Series(complement(small, relations.parts(rows, by), [n, k, n - k], smallest_cell))
    numbers = ("n", "rescued", "rate", "odds_ratio", "odds_low", "odds_high", "clusters", "sites")
    shown = frame.with_columns(pl.when(~hidden).then(pl.col(name)).alias(name) for name in numbers)
    return shown.with_columns(
        pl.when(~_small(pl.col(name), smallest_cell)).then(pl.col(name)).alias(name)
        for name in TOLD
    )


def _small(count: pl.Expr, smallest_cell: int) -> pl.Expr:
    return count.is_between(1, smallest_cell - 1).fill_null(value=False)
