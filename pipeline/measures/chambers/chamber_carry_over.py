"""Carry-over: readings by run order of the day, against the chamber's first runs."""

import numpy as np
import polars as pl

from pipeline.disclosure.hide import whole_rows
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.late import t
from schemas.measures.chamber_carry_over import ChamberCarryOver

FEWEST_LOADS = 5
FEWEST_CHAMBERS = 5
CHAMBER = ["site_id", "dryer_id", "ordered_by"]


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare each band with the first runs of the same chambers.

    Args:
        counts: `chamber_carry_over`, loads and median by chamber, ordering and band.
        settings: the confidence level.

    Returns:
        The table chamber_carry_over; limits by Student's t over chambers, on the log scale, at the
        level for all bands together (Bonferroni).
    """
    table = counts["chamber_carry_over"].filter(
        (pl.col("n") >= FEWEST_LOADS) & (pl.col("median_ul") > 0)
    )
    first = table.filter(pl.col("order_band") == "first").select(
        *CHAMBER, pl.col("median_ul").alias("first_ul")
    )
    ratio = (pl.col("median_ul") / pl.col("first_ul")).log()
    found = (
        table.join(first, on=CHAMBER)
        .group_by("ordered_by", "order_band")
        .agg(
            pl.col("n").sum(),
            pl.len().cast(pl.Int64).alias("chambers"),
            ratio.mean().alias("mean"),
            ratio.std().alias("sd"),
        )
    )
    chambers = found["chambers"].to_numpy()
    enough = (pl.col("chambers") >= FEWEST_CHAMBERS) & (pl.col("order_band") != "first")
    bands = max(1, found.filter(enough).height)
    z = t.ppf(1 - (1 - settings.confidence_level) / 2 / bands, np.maximum(chambers - 1, 1))
    reach = pl.Series("reach", z) * pl.col("sd") / pl.col("chambers").sqrt()
    frame = found.with_columns(
        pl.col("mean").exp().alias("ratio_to_first"),
        pl.when(enough).then((pl.col("mean") - reach).exp()).alias("ratio_low"),
        pl.when(enough).then((pl.col("mean") + reach).exp()).alias("ratio_high"),
    )
    return as_table(frame, ChamberCarryOver)


CHAMBER_CARRY_OVER = Measure(
    schema=ChamberCarryOver,
    queries=("chamber_carry_over",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(whole_rows),
    method="chamber-physics",
    label="Carry-over from run to run",
)
