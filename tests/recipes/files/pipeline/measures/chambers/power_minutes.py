"""How long aids lie in a chamber, by what powers them."""

import polars as pl
from schemas.measures.power_minutes import PowerMinutes

from pipeline.disclosure.hide import whole_rows
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Return the mean of each power source."""
    mean = (pl.col("minutes") / pl.col("n")).alias("mean_minutes")
    return as_table(counts["power_minutes"].with_columns(mean), PowerMinutes)


POWER_MINUTES = Measure(
    schema=PowerMinutes,
    queries=("power_minutes",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(whole_rows),
    method="chamber-physics",
    label="Time in the chamber by power source",
)
