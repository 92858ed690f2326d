"""Small counts of graded aids, of claims and of months, and what would reveal them."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import complement
from pipeline.disclosure.counts import flags, is_small, is_small_count, numbers, rows_of
from pipeline.disclosure.hide import without
from pipeline.statistics.intervals import Floats


def agreement(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `condition_agreement`; the sites of a moment add up to all."""
    rows = rows_of(frame, "moment", "site_id")
    sums = relations.parts(rows, ["moment"], pl.col("site_id").is_null())
    assessed, before, after = (
        numbers(frame, name) for name in ("assessed", "outside_before", "outside_after")
    )
    counts = [
        assessed, numbers(frame, "graded_only"), numbers(frame, "measured_only"), before, after,
        assessed - before, assessed - after, numbers(frame, "wearers"),
    ]  # fmt: skip
    return _hidden(frame, counts, sums, smallest_cell, keep=("site_id", "moment"))


def repeats(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `measurement_repeatability`; the boxes of a measure add up to all."""
    keys = ("measure", "site_id", "test_box_id", "basis", "taken_from", "tolerance")
    rows = rows_of(frame, "measure", pl.col("site_id").is_null().alias("is_all"))
    sums = relations.holding(relations.parts(rows, ["measure"], pl.col("is_all")), frame["pairs"])
    counts = [numbers(frame, "pairs"), numbers(frame, "cleaned_only_changes")]
    return _hidden(frame, counts, sums, smallest_cell, keep=keys)


def graded(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of `graded_rate`; the ways of grading add up to all."""
    keys = ["condition_before", "definition", "graded_by"]
    rows = rows_of(frame, *keys)
    sums = relations.parts(rows, keys[:2], pl.col("graded_by") == "all")
    n, k = numbers(frame, "n"), numbers(frame, "rescued")
    counts = [n, k, n - k, numbers(frame, "patients")]
    by_definition = _hidden(frame, counts, sums, smallest_cell, keep=keys)
    # Definitions of one condition share their aids: what hides them hides them under all.
    few = pl.col("n").is_null().any().over("condition_before", "graded_by")
    others = [name for name in frame.columns if name not in keys]
    return without(by_definition, flags(by_definition, few), others)


def claims(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the group's own share of `claim_check` where it rests on few, and the verdict on it."""
    n = pl.col("n")
    k = (n * pl.col("rate")).round()
    small = pl.any_horizontal(is_small_count(count, smallest_cell) for count in (n, k, n - k))
    own = ("n", "n_effective", "rate", "adjusted_low", "adjusted_high", "p_value", "p_adjusted",
           "verdict")  # fmt: skip
    return without(frame, flags(frame, small), own)


def trend(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small months of `monthly_trend`, and every number of single sites.

    The months of a series add up to its rate; of a site only whether it signals is shared.
    """
    rows = rows_of(frame, "series", "site_id")
    everyone = rows.filter(pl.col("site_id").is_null())
    sums = relations.parts(everyone, ["series"])
    n, k = numbers(frame, "n"), numbers(frame, "counted")
    is_site = frame["site_id"].is_not_null().to_numpy()
    counts = [np.where(is_site, np.nan, count) for count in (n, k, n - k)]
    keep = ("series", "site_id", "month", "signal", "rule", "limits", "p_value", "p_adjusted")
    told = _hidden(frame, counts, sums, smallest_cell, keep=(*keep, "centre"))
    return without(told, is_site, [name for name in frame.columns if name not in keep])


def _hidden(
    frame: pl.DataFrame,
    counts: Sequence[Floats],
    sums: pl.DataFrame,
    smallest_cell: int,
    keep: Sequence[str],
) -> pl.DataFrame:
    small = np.logical_or.reduce([is_small(values, smallest_cell) for values in counts])
    hidden = complement(small, sums, counts, smallest_cell)
    return without(frame, hidden, [name for name in frame.columns if name not in keep])
