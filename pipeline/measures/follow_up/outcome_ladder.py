"""What became of every aid that came in with a problem, from cleaning to replacement."""

import polars as pl

from pipeline.disclosure import follow_up
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.clusters import adjusted_limits, icc_pooled, sums_of
from schemas.measures.outcome_ladder import OutcomeLadder


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn sums over wearers into shares of each step.

    Args:
        counts: `outcome_ladder`, by condition on arrival, site and step.
        settings: the confidence level.

    Returns:
        The table outcome_ladder.
    """
    sums = counts["outcome_ladder"]
    if sums.is_empty():
        return as_table(no_rows(OutcomeLadder), OutcomeLadder)
    found = sums_of(sums)
    pool = sums.select(
        pl.concat_str("condition_before", "step", pl.col("site_id").is_null())
    ).to_series()
    limits = adjusted_limits(found, icc_pooled(found, pool.to_numpy()), settings.confidence_level)
    return as_table(
        sums.with_columns(
            pl.when(pl.col("site_id").is_null())
            .then(pl.lit("all"))
            .otherwise(pl.lit("site_id"))
            .alias("grouping"),
            pl.col("site_id").alias("group_1"),
            pl.col("m").alias("wearers"),
            pl.col("k").alias("ended_here"),
            (pl.col("k") / pl.col("n")).alias("share"),
            pl.Series("low", limits.adjusted_low),
            pl.Series("high", limits.adjusted_high),
            pl.col("unordered").alias("order_not_recorded"),
        ),
        OutcomeLadder,
    )


OUTCOME_LADDER = Measure(
    schema=OutcomeLadder,
    queries=("outcome_ladder",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(follow_up.ladder),
    method="ladder",
    label="From arrival to repair",
)
