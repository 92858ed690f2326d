"""Were dried and cleaned-only aids alike beforehand?"""

import polars as pl

from pipeline.disclosure import drying
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from schemas.measures.routine_drying_baseline import RoutineDryingBaseline


def infer(counts: dict[str, pl.DataFrame], _settings: Settings) -> pl.DataFrame:
    """Turn numbers by feature, level and arm into shares, means and standardised differences.

    Args:
        counts: `routine_baseline`.

    Returns:
        The table routine_drying_baseline. A level that one arm lacks has 0 there; the difference
        is null where neither arm varies.

    Source: Austin 2009, Stat Med 28:3083-3107.
    """
    long = counts["routine_baseline"]
    keys = ["feature", "level"]
    sizes = long.group_by("feature", "arm").agg(pl.col("n").sum().alias("size"))
    both = (
        long.select(keys).unique()
        .join(sizes, on="feature").join(long, on=[*keys, "arm"], how="left", nulls_equal=True)
        .with_columns(pl.col("n", "wearers").fill_null(0))
    )  # fmt: skip
    is_number = pl.col("level").is_null()
    n, size = pl.col("n"), pl.col("size")
    described = both.with_columns(
        pl.when(is_number).then(pl.col("total") / n).otherwise(n / size).alias("value"),
    ).with_columns(
        pl.when(is_number)
        .then((pl.col("squares") - n * pl.col("value") ** 2) / (n - 1))
        .otherwise(pl.col("value") * (1 - pl.col("value")))
        .alias("variance")
    )
    arms = {
        arm: described.filter(pl.col("arm") == code).select(
            *keys, *(pl.col(name).alias(f"{arm}_{name}") for name in
                     ("n", "wearers", "value", "variance"))
        )
        for arm, code in (("dried", 1), ("cleaned", 0))
    }  # fmt: skip
    wide = arms["dried"].join(arms["cleaned"], on=keys, nulls_equal=True)
    spread = ((pl.col("dried_variance") + pl.col("cleaned_variance")) / 2).sqrt()
    frame = wide.with_columns(
        pl.when(spread > 0)
        .then((pl.col("dried_value") - pl.col("cleaned_value")) / spread)
        .alias("standardised_difference")
    )
    return as_table(frame, RoutineDryingBaseline)


ROUTINE_DRYING_BASELINE = Measure(
    schema=RoutineDryingBaseline,
    queries=("routine_baseline",),
    infer=infer,
    analysis_sets={"routine_drying": "comparison_aid"},
    disclosure=CountsPeople(drying.baseline),
    method="routine-drying",
    label="The arms before treatment",
    needs=("measurement_repeatability", "analysis_set"),
    group_wide=(
        "comparison_period", "comparison_size", "comparison_groups", "comparison_week",
        "comparison_reached", "comparison_stratum", "comparison_both",
    ),
    views=("working_outcome", "comparison_eligible"),
    temporary=("comparison_aid",),
)  # fmt: skip
