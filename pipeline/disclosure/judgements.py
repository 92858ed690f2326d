"""Small counts of graded aids, of claims and of months, and what would reveal them."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import Flags, complement
from pipeline.statistics.intervals import Floats


def agreement(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `condition_agreement`; the sites of a moment add up to all."""
    rows = frame.select("moment", "site_id", pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
    sums = relations.parts(rows, ["moment"], pl.col("site_id").is_null())
    assessed, before, after = (
        _numbers(frame, name) for name in ("assessed", "outside_before", "outside_after")
    )
    counts = [
        assessed, _numbers(frame, "graded_only"), _numbers(frame, "measured_only"), before, after,
        assessed - before, assessed - after, _numbers(frame, "wearers"),
    ]  # fmt: skip
    return _hidden(frame, counts, sums, smallest_cell, keep=("site_id", "moment"))


def repeats(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `measurement_repeatability`; the boxes of a measure add up to all."""
    keys = ("measure", "site_id", "test_box_id", "basis", "taken_from", "tolerance")
    rows = frame.select("measure", pl.int_range(pl.len(), dtype=pl.Int64).alias("row"),
                        pl.col("site_id").is_null().alias("is_all"))  # fmt: skip
    sums = relations.holding(relations.parts(rows, ["measure"], pl.col("is_all")), frame["pairs"])
    counts = [_numbers(frame, "pairs"), _numbers(frame, "cleaned_only_changes")]
    return _hidden(frame, counts, sums, smallest_cell, keep=keys)


def graded(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `graded_rate`; the ways of grading add up to all."""
    keys = ["condition_before", "definition", "graded_by"]
    rows = frame.select(*keys, pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
    sums = relations.parts(rows, keys[:2], pl.col("graded_by") == "all")
    n, k = _numbers(frame, "n"), _numbers(frame, "rescued")
    counts = [n, k, n - k, _numbers(frame, "patients")]
    by_definition = _hidden(frame, counts, sums, smallest_cell, keep=keys)
    # Definitions of one condition share their aids: what hides them hides them under all.
    few = pl.col("n").is_null().any().over("condition_before", "graded_by")
    others = [name for name in frame.columns if name not in keys]
    return by_definition.with_columns(
        pl.when(~few).then(pl.col(name)).alias(name) for name in others
    )


def claims(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the group's own share of `claim_check` where it rests on few; the verdict stays."""
    n = pl.col("n")
    k = (n * pl.col("rate")).round()
    small = pl.any_horizontal(
        count.is_between(1, smallest_cell - 1).fill_null(value=False) for count in (n, k, n - k)
    )
    own = ("n", "n_effective", "rate", "adjusted_low", "adjusted_high", "p_value", "p_adjusted")
    return frame.with_columns(pl.when(~small).then(pl.col(name)).alias(name) for name in own)


def trend(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small months of `monthly_trend`, and every number of single sites.

    The months of a series add up to its rate; of a site only whether it signals is shared.
    """
    rows = frame.select("series", "site_id", pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
    everyone = rows.filter(pl.col("site_id").is_null())
    sums = relations.parts(everyone, ["series"])
    n, k = _numbers(frame, "n"), _numbers(frame, "counted")
    is_site = frame["site_id"].is_not_null().to_numpy()
    counts = [np.where(is_site, np.nan, count) for count in (n, k, n - k)]
    keep = ("series", "site_id", "month", "signal", "rule", "limits", "p_value", "p_adjusted")
    told = _hidden(frame, counts, sums, smallest_cell, keep=(*keep, "centre"))
    shown = pl.col("site_id").is_null()
    numbers = [name for name in frame.columns if name not in keep]
    return told.with_columns(pl.when(shown).then(pl.col(name)).alias(name) for name in numbers)


def _hidden(
    frame: pl.DataFrame,
    counts: Sequence[Floats],
    sums: pl.DataFrame,
    smallest_cell: int,
    keep: Sequence[str],
) -> pl.DataFrame:
    small = np.zeros(frame.height, dtype=bool)
    for values in counts:
        small |= (values > 0) & (values < smallest_cell)
    hidden: Flags = complement(small, sums, counts, smallest_cell)
    shown = pl.Series(~hidden)
    return frame.with_columns(
        pl.when(shown).then(pl.col(name)).alias(name) for name in frame.columns if name not in keep
    )


def _numbers(frame: pl.DataFrame, name: str) -> Floats:
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()
