"""Rescue rates again, by how the grade was found."""

import numpy as np
import polars as pl

from pipeline.disclosure import judgements
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.clusters import adjusted_limits, icc_pooled, sums_of
from pipeline.statistics.intervals import wilson
from schemas.measures.graded_rate import GradedRate
from schemas.outcomes import GRADED_DEFINITIONS

KEYS = ("condition_before", "definition", "graded_by")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Give each headline rate by way of grading, with limits by wearer.

    Args:
        counts: `graded_rate`: aids and successes by set of like wearers.
        settings: the confidence level.

    Returns:
        The table graded_rate.
    """
    given = counts["graded_rate"]
    parts = [
        given.filter(pl.col("condition_before") == condition).with_columns(
            pl.lit(definition).alias("definition"), pl.col(definition).alias("y")
        )
        for condition, definitions in GRADED_DEFINITIONS.items()
        for definition in definitions
    ]
    own = pl.concat(parts)
    rows = pl.concat([own, own.with_columns(pl.lit("all").alias("graded_by"))])
    n, y, m = (pl.col(name).cast(pl.Float64) for name in ("n", "y", "wearers"))
    sums = rows.group_by(KEYS).agg(
        (m * n).sum().alias("n"), (m * y).sum().alias("rescued"), m.sum().alias("patients"),
        (m * n * n).sum().alias("nn"), (m * y * y).sum().alias("yy"), (m * n * y).sum().alias("ny"),
        (m * y * y / n).sum().alias("yyn"),
    ).sort(KEYS)  # fmt: skip
    names = ("n", "rescued", "patients", "nn", "yy", "ny", "yyn")
    clusters = sums_of(sums, names)
    # Ways of grading do not overlap; their sum stands beside them and adds no weight of its own.
    pool = sums.select(
        pl.concat_str(*KEYS[:2], (pl.col("graded_by") == "all").cast(pl.String), separator="|")
    ).to_series()
    limits = adjusted_limits(clusters, icc_pooled(clusters, pool.to_numpy()),
                             settings.confidence_level)  # fmt: skip
    low, high = wilson(clusters.k, clusters.n, settings.confidence_level)
    frame = sums.with_columns(
        (pl.col("rescued") / pl.col("n")).alias("rate"),
        *(
            pl.Series(name, np.asarray(values, dtype=float))
            for name, values in (
                ("wilson_low", low), ("wilson_high", high),
                ("adjusted_low", limits.adjusted_low), ("adjusted_high", limits.adjusted_high),
            )
        ),
    )  # fmt: skip
    return as_table(frame, GradedRate)


GRADED_RATE = Measure(
    schema=GradedRate,
    queries=("graded_rate",),
    infer=infer,
    analysis_sets={"graded_rate": "problem_aid"},
    disclosure=CountsPeople(judgements.graded),
    method="condition-agreement",
    label="Rates by way of grading",
    needs=("analysis_set",),
    group_wide=("headline_sums", "headline_order"),
    views=("headline_aid",),
)
