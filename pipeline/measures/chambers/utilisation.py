"""Is each chamber used: cycles an open day, share of aids dried, idle weeks."""

import polars as pl

from pipeline.disclosure import periods
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from schemas.measures.utilisation import Utilisation


def infer(counts: dict[str, pl.DataFrame], _settings: Settings) -> pl.DataFrame:
    """Add rates and shares to each chamber's month.

    A share is null where the counts of visits are missing, or are smaller than the aids dried,
    so cannot be the aids seen.

    Args:
        counts: `utilisation`, one row per site, chamber and month.

    Returns:
        The table utilisation.
    """
    dried, seen = pl.col("checked_aids_dried"), pl.col("checked_aids_seen")
    frame = counts["utilisation"].with_columns(
        pl.when(pl.col("open_days") > 0)
        .then(pl.col("runs") / pl.col("open_days"))
        .alias("runs_per_open_day"),
        pl.when((seen > 0) & (seen >= dried)).then(dried / seen).alias("checked_aids_dried_share"),
    )
    return as_table(frame, Utilisation)


UTILISATION = Measure(
    schema=Utilisation,
    queries=("utilisation",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(periods.use),
    method="use",
    label="Use of the chambers",
    group_wide=("chamber_day", "dried_month"),
    views=("dried_visit",),
)
