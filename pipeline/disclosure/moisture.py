"""Small counts of the distribution of moisture, and what would reveal them."""

import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import check, complement
from pipeline.disclosure.counts import is_small, numbers, rows_of
from pipeline.disclosure.hide import without
from pipeline.disclosure.relations import CELL

SERIES = ["aids_in_chamber", "basis"]
BELOW = ("below_detection", "share_below_detection", "share_below_low", "share_below_high")
# Whether a tenth lies below the limit tells whether a tenth of the loads do.
QUANTILES = {"p10": 0.1, "p25": 0.25, "median": 0.5, "p75": 0.75, "p90": 0.9}


def moisture(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of moisture_distribution, and small counts below detection."""
    n, wearers = numbers(frame, "n"), numbers(frame, "wearers")
    below = numbers(frame, "below_detection")
    sums = moisture_sums(frame)
    small_n = is_small(n, smallest_cell) | is_small(wearers, smallest_cell)
    few = complement(small_n, sums, [n], smallest_cell)
    small_split = is_small(below, smallest_cell) | is_small(n - below, smallest_cell)
    split = complement(small_n | small_split, sums, [n, below, n - below], smallest_cell, also=few)
    check(few, n, sums, smallest_cell)
    check(split, below, sums, smallest_cell)
    others = [name for name in frame.columns if name not in {*SERIES, *CELL}]
    shown = frame
    for left in {"left_out_incomplete"} & set(frame.columns):
        shown = without(frame, is_small(numbers(frame, left), smallest_cell), (left,))
    shown = without(without(shown, few, others), split, BELOW)
    for name, share in QUANTILES.items():
        tells = split & (n * min(share, 1 - share) < smallest_cell)
        own = [column for column in frame.columns if column.startswith(f"{name}_")]
        shown = without(shown, tells, own)
    return shown


def moisture_sums(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the relations between rows: over groups, and loads of one and of two together."""
    rows = rows_of(frame, *SERIES, *CELL)
    together = relations.parts(rows, ["basis", *CELL], pl.col("aids_in_chamber").is_null())
    found = relations.joined([relations.sums_over_groups(rows, SERIES), together])
    return relations.holding(found, frame["n"])
