"""Small counts beside fitted curves, and what the differences of shown totals would reveal."""

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import complement
from pipeline.disclosure.counts import flags, is_small, is_small_count, numbers, rows_of
from pipeline.disclosure.hide import without

LEVEL = ("n", "rescued", "rate", "odds_ratio", "odds_low", "odds_high", "clusters", "sites")
TOLD = ("delay_not_recorded", "not_assessed")


def delay(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide a small model of `rescue_by_delay` whole, and small counts beside a large one.

    A curve rests on all aids of its model together, so it shows none of them. Where few aids were
    left out, the number of aids in the model goes with them: the rates by delay tell the total.
    """
    n, k = pl.col("n"), pl.col("rescued")
    small = pl.any_horizontal(
        is_small_count(count, smallest_cell) for count in (n, k, n - k, pl.col("wearers"))
    )
    few_left = pl.any_horizontal(is_small_count(pl.col(name), smallest_cell) for name in TOLD)
    counts = (*TOLD, "n", "rescued")
    curve = [name for name in frame.columns if name not in {"definition", "delay_hours"}]
    shown = without(frame, flags(frame, small), curve)
    return without(shown, flags(frame, few_left), counts)


def coefficients(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small levels of `rescue_model`; the levels of a factor add up to the model's aids.

    The model's aids are told beside its curve, so that a level alone in its factor is known.
    """
    by = ["definition", "factor"]
    rows = rows_of(frame, *by)
    n, k, clusters = (np.nan_to_num(numbers(frame, name)) for name in ("n", "rescued", "clusters"))
    small = np.logical_or.reduce(
        [is_small(values, smallest_cell) for values in (n, k, n - k, clusters)]
    )
    # Clusters of a factor that does not vary within a site are sites, not people.
    small &= ~(frame["basis"] == "sites").to_numpy() | (n < smallest_cell) | (k < smallest_cell)
    hidden = complement(small, relations.parts(rows, by), [n, k, n - k], smallest_cell)
    shown = without(frame, hidden, LEVEL)
    for name in TOLD:
        shown = without(shown, is_small(numbers(frame, name), smallest_cell), (name,))
    return shown
