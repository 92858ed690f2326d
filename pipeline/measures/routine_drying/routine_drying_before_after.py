"""Dried working aids before and after, against regression to the mean."""

import polars as pl

from pipeline.disclosure import drying
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.clusters import mean_limits, sums_of
from pipeline.statistics.regression_to_mean import expected_change, reliability
from schemas.measures.routine_drying_before_after import RoutineDryingBeforeAfter

# Of the aids with a low first reading: n, summed change, wearers, and sums over wearers.
LOW = ("low_n", "low_change", "low_wearers", "low_nn", "low_yy", "low_ny")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Set the change of aids with a low first reading against what chance alone gives.

    Args:
        counts: `routine_before_after` (sums by measure and style), `routine_treated` (by style)
            and `within_sd` (by measure).
        settings: the confidence level.

    Returns:
        The table routine_drying_before_after.
    """
    within = dict(counts["within_sd"].rows())
    treated, rows = counts["routine_treated"], []
    sums = counts["routine_before_after"].join(
        treated, on="device_style", how="left", maintain_order="left"
    )
    limits = zip(*mean_limits(sums_of(sums, LOW), settings.confidence_level), strict=True)
    for given, (change, low, high) in zip(sums.iter_rows(named=True), limits, strict=True):
        n, low_n = given["n"], given["low_n"]
        mean = given["before"] / n
        variance = (given["squares"] - n * mean**2) / (n - 1) if n > 1 else 0.0
        share = reliability(variance, within[given["measure"]])
        row = {name: given[name] for name in (
            "measure", "device_style", "treated", "stopped", "n", "wearers", "low_n"
        )}  # fmt: skip
        row |= {"mean_before": mean, "reliability": share}
        if low_n:
            chosen = given["low_before"] / low_n
            row |= {
                "low_mean_before": chosen, "low_change": change, "low_change_low": low,
                "low_change_high": high, "expected_change": expected_change(mean, chosen, share),
            }  # fmt: skip
        rows.append(row)
    types = {n: spec.dtype.type for n, spec in RoutineDryingBeforeAfter.to_schema().columns.items()}
    return as_table(pl.DataFrame(rows, schema=types), RoutineDryingBeforeAfter)


ROUTINE_DRYING_BEFORE_AFTER = Measure(
    schema=RoutineDryingBeforeAfter,
    queries=("routine_before_after", "routine_treated", "within_sd"),
    infer=infer,
    analysis_sets={"routine_drying": "comparison_aid"},
    disclosure=CountsPeople(drying.before_after),
    method="routine-drying",
    label="Before and after drying alone",
    needs=("measurement_repeatability", "analysis_set"),
    group_wide=(
        "comparison_period", "comparison_size", "comparison_groups", "comparison_week",
        "comparison_reached", "comparison_stratum", "comparison_both", "routine_value",
        "routine_middle",
    ),
    views=("working_outcome", "comparison_eligible"),
    temporary=("comparison_aid", "routine_reading"),
)  # fmt: skip
