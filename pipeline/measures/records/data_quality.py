"""What is wrong with the data, where, and what to do about it."""

import polars as pl

from pipeline.disclosure import periods
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.measures.records.quality_checks import KINDS
from pipeline.settings import Settings
from schemas.measures.data_quality import DataQuality


def infer(counts: dict[str, pl.DataFrame], _settings: Settings) -> pl.DataFrame:
    """Add share, threshold, verdict and advice to each count.

    Args:
        counts: `data_quality`, `data_quality_runs` and `data_quality_beside`: numerator and
            denominator by site, month and check.

    Returns:
        The table data_quality.
    """
    told = pl.DataFrame(
        [
            (name, kind, check.of, check.threshold, check.advice)
            for kind, checks in KINDS.items()
            for name, check in checks.items()
        ],
        schema={
            "check_name": pl.String,
            "kind": pl.String,
            "denominator_of": pl.String,
            "threshold": pl.Float64,
            "advice": pl.String,
        },
        orient="row",
    )
    frame = (
        pl.concat(
            [counts[name] for name in ("data_quality", "data_quality_runs", "data_quality_beside")]
        )
        .join(told, on="check_name", how="left")
        .with_columns(
            pl.when(pl.col("denominator") > 0)
            .then(pl.col("numerator") / pl.col("denominator"))
            .alias("share")
        )
        .with_columns(
            (pl.col("share") > pl.col("threshold")).fill_null(value=False).alias("is_over")
        )
    )
    return as_table(frame, DataQuality)


DATA_QUALITY = Measure(
    schema=DataQuality,
    queries=("data_quality", "data_quality_runs", "data_quality_beside"),
    group_wide=("quality_tolerance",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(periods.quality),
    method="data-quality",
    label="Checks of the records",
    needs=("measurement_repeatability", "utilisation", "dryer_calibration"),
    views=("measured_aid",),
)
