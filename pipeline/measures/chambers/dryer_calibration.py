"""Whose chamber reads right: four verdicts, line, standing and remedy."""

import numpy as np
import polars as pl
from scipy.special import ndtri

from pipeline.disclosure.rule import CountsNoPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics import chamber_verdict
from pipeline.statistics.intervals import wilson
from pipeline.statistics.water import expected_misreading
from schemas.chambers import remedy
from schemas.measures.dryer_calibration import DryerCalibration

HEIGHTS_M = (-500.0, 5000.0)
# What a chamber's maker may say that it measures, by words in it.
PRINCIPLES = (
    ("mixing_ratio", "mixing ratio|dew point|humidity ratio"),
    ("gas_volume", "gas flow|volume flow|mass flow"),
    ("absolute_humidity", "absolute humidity"),
)


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Add limits, the pump's verdict, the remedy and the range that height may cause.

    Args:
        counts: `dryer_calibration`, one row per chamber.
        settings: the confidence level.

    Returns:
        The table dryer_calibration.
    """
    sums = counts["dryer_calibration"]
    level = settings.confidence_level
    low, high = wilson(sums["days_within"], sums["checked_days"], level)
    cycles, flagged = sums["cycles_with_pressure"], sums["cycles_boiling_not_possible"]
    boiling_low, boiling_high = wilson(flagged, cycles, level)
    pump = chamber_verdict.pump(sums["pump_cycles_short"], sums["pump_cycles"], level)
    pump_low, pump_high = wilson(sums["pump_cycles_short"], sums["pump_cycles"], level)
    z = float(ndtri(0.5 + level / 2))
    reach = z * pl.col("error_sd_ul")
    ranges = [
        _height(m, text) for m, text in sums.select("elevation_m", "reading_principle").rows()
    ]
    frame = sums.with_columns(
        pl.when(pl.col("checked_days") > 0)
        .then(pl.col("days_within") / pl.col("checked_days"))
        .alias("within_tolerance_share"),
        pl.Series("within_low", np.asarray(low, dtype=float)),
        pl.Series("within_high", np.asarray(high, dtype=float)),
        pl.when(pl.col("cycles_with_pressure") > 0)
        .then(pl.col("cycles_boiling_not_possible") / pl.col("cycles_with_pressure"))
        .alias("boiling_not_possible_share"),
        pl.Series("boiling_low", np.asarray(boiling_low, dtype=float)),
        pl.Series("boiling_high", np.asarray(boiling_high, dtype=float)),
        pl.Series("pump", pump, dtype=pl.String),
        pl.when(pl.col("pump_cycles") > 0)
        .then(pl.col("pump_cycles_short") / pl.col("pump_cycles"))
        .alias("pump_short_share"),
        pl.Series("pump_low", np.asarray(pump_low, dtype=float)),
        pl.Series("pump_high", np.asarray(pump_high, dtype=float)),
        pl.Series(
            "remedy",
            [remedy(word, str(own)) for word, own in zip(sums["standing"], pump, strict=True)],
            dtype=pl.String,
        ),
        pl.when(pl.col("standing") == "retest")
        .then("reading_standing")
        .alias("standing_before_retest"),
        (pl.col("mean_error_ul") - reach).alias("agreement_low_ul"),
        (pl.col("mean_error_ul") + reach).alias("agreement_high_ul"),
        pl.Series("height_error_low_pct", [r[0] for r in ranges], dtype=pl.Float64),
        pl.Series("height_error_high_pct", [r[1] for r in ranges], dtype=pl.Float64),
    )
    return as_table(frame, DryerCalibration)


def principle_of(words: str | None) -> str:
    """Return which principle of `expected_misreading` the words name; "not known" otherwise."""
    text = pl.Series([(words or "").lower()])
    named = [name for name, pattern in PRINCIPLES if text.str.contains(pattern).item()]
    return named[0] if len(named) == 1 else "not known"


def _height(elevation_m: float | None, words: str | None) -> tuple[float | None, float | None]:
    if elevation_m is None or not HEIGHTS_M[0] <= elevation_m <= HEIGHTS_M[1]:
        return None, None
    low, high = expected_misreading(elevation_m, principle_of(words))
    return round(100 * low, 4), round(100 * high, 4)


DRYER_CALIBRATION = Measure(
    schema=DryerCalibration,
    queries=("dryer_calibration",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsNoPeople("doses of water and cycles of a chamber"),
    method="chambers",
    label="Dose checks of chambers",
)
