"""Small cells of the moisture centiles: the centiles of a cell share its wearers."""

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import complement
from pipeline.disclosure.hide import without

CELL = ["device_style", "days_since_dry_band", "climate_group", "season"]
CENTILE = (
    "moisture_per_aid_ul", "moisture_per_aid_state", "moisture_per_aid_bound_low_ul",
    "moisture_per_aid_bound_high_ul", "low_ul", "high_ul", "withheld",
)  # fmt: skip
COUNTS = ("n", "wearers", "below_detection")


def centiles(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the cells of `moisture_centile` with few wearers, and small counts below detection.

    Climates add up to the cell of all climates, and seasons to their climate; a cell of any days
    since the last drying has visits of its own, so that bands do not add up to it.
    """
    cells = frame.unique(CELL, maintain_order=True).with_columns(
        pl.int_range(pl.len(), dtype=pl.Int64).alias("row")
    )
    by_climate = cells.filter(pl.col("season").is_null())
    by_season = cells.drop_nulls("climate_group")
    found = [
        relations.parts(by_climate, CELL[:2], pl.col("climate_group").is_null()),
        relations.parts(by_season, CELL[:3], pl.col("season").is_null()),
    ]
    sums = relations.holding(relations.joined(found), cells["n"])
    n, below = (cells[name].cast(pl.Float64).to_numpy() for name in ("n", "below_detection"))
    small = (n > 0) & (n < smallest_cell)
    few = complement(small, sums, [n], smallest_cell)
    split = small | ((below > 0) & (below < smallest_cell))
    split |= (n > below) & (n - below < smallest_cell)
    split = complement(split, sums, [n, below, n - below], smallest_cell, also=few)
    flags = cells.select(*CELL, pl.Series("is_few", few), pl.Series("is_split", split))
    marked = frame.join(flags, on=CELL, how="left", nulls_equal=True, maintain_order="left")
    few, split = (marked[name].fill_null(value=True).to_numpy() for name in ("is_few", "is_split"))
    share = marked["centile"].to_numpy() / 100
    # Whether a tenth lies below detection tells whether a tenth of the wearers do.
    tells = split & (np.minimum(share, 1 - share) * marked["wearers"].to_numpy() < smallest_cell)
    shown = without(marked, few, COUNTS)
    shown = without(without(shown, split, ("below_detection",)), few | tells, CENTILE)
    return shown.select(frame.columns)
