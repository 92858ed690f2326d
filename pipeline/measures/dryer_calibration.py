"""Whose chamber reads right: errors, line, drift and standing from dose checks."""

import numpy as np
import polars as pl
from scipy.stats import norm

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.intervals import wilson
from schemas.measures.dryer_calibration import DryerCalibration

FEWEST_CHECKS = 5
FEWEST_DOSES = 2
SLOPES = (0.5, 2.0)
DRIFT_LIMIT = 3.0


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Add limits and standing to each chamber's sums.

    Standing is the first that applies: never_checked; overdue (no check since the last service,
    or the last longer ago than the setting); correctable (out of tolerance, but steady);
    in_tolerance; out_of_tolerance. In tolerance means that the last checked day was.

    Args:
        counts: `dryer_calibration`, one row per chamber.
        settings: confidence level and days after which a check is overdue.

    Returns:
        The table dryer_calibration.
    """
    sums = counts["dryer_calibration"].with_columns(
        pl.col("checked_days", "days_within").fill_null(0)
    )
    level = settings.confidence_level
    low, high = wilson(sums["days_within"], sums["checked_days"], level)
    z = float(norm.ppf(0.5 + level / 2))
    days = (pl.col("counted_on") - pl.col("last_checked_on")).dt.total_days()
    drifting = pl.when(pl.col("checks_in_180_days") >= FEWEST_CHECKS).then(
        pl.col("drift_ewma").abs() > DRIFT_LIMIT
    )
    steady = (
        (pl.col("checks_in_180_days") >= FEWEST_CHECKS)
        & (pl.col("doses") >= FEWEST_DOSES)
        & pl.col("slope").is_between(*SLOPES)
        & ~pl.col("is_drifting")
    ).fill_null(value=False)
    within = pl.col("is_last_within").fill_null(value=False)
    overdue = (pl.col("days_since_check") > settings.dose_check_overdue_days).fill_null(value=True)
    frame = (
        sums.with_columns(
            days.alias("days_since_check"),
            drifting.alias("is_drifting"),
            pl.when(pl.col("checked_days") > 0)
            .then(pl.col("days_within") / pl.col("checked_days"))
            .alias("within_tolerance_share"),
            pl.Series("within_low", np.asarray(low, dtype=float)),
            pl.Series("within_high", np.asarray(high, dtype=float)),
            (pl.col("mean_error_ul") - z * pl.col("error_sd_ul")).alias("agreement_low_ul"),
            (pl.col("mean_error_ul") + z * pl.col("error_sd_ul")).alias("agreement_high_ul"),
        )
    ).with_columns(
        pl.when(pl.col("checks_ever") == 0).then(pl.lit("never_checked"))
        .when(overdue | (pl.col("checks") == 0)).then(pl.lit("overdue"))
        .when(~within & steady).then(pl.lit("correctable"))
        .when(within).then(pl.lit("in_tolerance"))
        .otherwise(pl.lit("out_of_tolerance"))
        .alias("standing")
    )  # fmt: skip
    return as_table(frame, DryerCalibration)


DRYER_CALIBRATION = Measure(
    name="dryer_calibration",
    schema=DryerCalibration,
    queries=("dryer_calibration",),
    infer=infer,
)
