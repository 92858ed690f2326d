"""Dried working aids before and after, against regression to the mean."""

import numpy as np
import polars as pl
from scipy.stats import t

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.regression_to_mean import expected_change, reliability
from schemas.measures.routine_drying_before_after import RoutineDryingBeforeAfter


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Set the change of aids with a low first reading against what chance alone gives.

    Args:
        counts: `routine_before_after` (sums by measure and style) and `within_sd` (by measure).
        settings: the confidence level.

    Returns:
        The table routine_drying_before_after.
    """
    within = dict(counts["within_sd"].rows())
    rows = []
    for given in counts["routine_before_after"].iter_rows(named=True):
        n, low_n = given["n"], given["low_n"]
        mean = given["before"] / n
        variance = (given["squares"] - n * mean**2) / (n - 1) if n > 1 else 0.0
        share = reliability(variance, within[given["measure"]])
        row = {name: given[name] for name in (
            "measure", "device_style", "treated", "stopped", "n", "wearers", "low_n"
        )}  # fmt: skip
        row |= {"mean_before": mean, "reliability": share}
        if low_n:
            chosen, change = given["low_before"] / low_n, given["low_change"] / low_n
            low, high = _limits(given, change, settings.confidence_level)
            row |= {
                "low_mean_before": chosen, "low_change": change, "low_change_low": low,
                "low_change_high": high, "expected_change": expected_change(mean, chosen, share),
            }  # fmt: skip
        rows.append(row)
    types = {n: spec.dtype.type for n, spec in RoutineDryingBeforeAfter.to_schema().columns.items()}
    return as_table(pl.DataFrame(rows, schema=types), RoutineDryingBeforeAfter)


def _limits(given: dict[str, float], change: float, level: float) -> tuple[float, float]:
    wearers = given["low_wearers"]
    if wearers < 2:
        return np.nan, np.nan
    squares = given["low_yy"] - 2 * change * given["low_ny"] + change**2 * given["low_nn"]
    error = np.sqrt(wearers / (wearers - 1) * max(0.0, squares)) / given["low_n"]
    half = float(t.ppf(0.5 + level / 2, wearers - 1) * error)
    return change - half, change + half


ROUTINE_DRYING_BEFORE_AFTER = Measure(
    name="routine_drying_before_after",
    schema=RoutineDryingBeforeAfter,
    queries=("routine_before_after", "within_sd"),
    infer=infer,
    needs=("measurement_repeatability", "analysis_set"),
    views=("working_outcome",),
    temporary=("comparison_aid",),
)
