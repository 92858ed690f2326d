"""Small counts beside fitted curves, and what the differences of shown totals would reveal."""

import polars as pl

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


def _small(count: pl.Expr, smallest_cell: int) -> pl.Expr:
    return count.is_between(1, smallest_cell - 1).fill_null(value=False)
