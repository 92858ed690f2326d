"""What is wrong with the data, where, and what to do about it."""

import polars as pl

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from schemas.measures.data_quality import DataQuality

# Check: largest tolerated share, and what to do.
CHECKS: dict[str, tuple[float, str]] = {
    "rows_refused": (0.02, "Open the list of refused rows and correct the export."),
    "rows_with_refused_values": (0.05, "Open the list of refused values; map or correct them."),
    "duplicate_rows": (0.02, "Export each period once, or say that files overlap."),
    "condition_after_missing": (0.1, "Assess each aid after its cycle and record it."),
    "condition_after_cleaning_missing": (
        0.5, "Record the condition after cleaning, before drying: else cleaning counts as drying.",
    ),
    "device_id_missing": (0.05, "Export the aid's serial number or another lasting id."),
    "patient_id_missing": (0.1, "Export the wearer's id; it is hashed before it is stored."),
    "exposure_missing": (0.2, "Ask how water reached the aid, and record it."),
    "delay_missing": (0.3, "Ask when the aid got wet, and record the hours or the band."),
    "moisture_missing": (0.1, "Export the chamber's reading of each load."),
    "measures_copied_forward": (
        0.05, "Measure again after drying; do not copy the values from before.",
    ),
    "whole_moisture_readings": (0.3, "Record moisture with its decimals, as the chamber shows it."),
    "incomplete_loads": (0.05, "Correct the refused rows: the other aids of their loads wait."),
    "weeks_without_data": (0.0, "Ask whether the clinic was closed, or send the missing export."),
    "output_above_specification": (
        0.0, "Measure these aids again before they are returned: their output is too high.",
    ),
    "zinc_air_cell_left_in": (0.0, "Take zinc-air cells out before drying."),
    "sealed_lithium_without_permission": (
        0.0, "Look up whether the maker allows vacuum, and record it with the model.",
    ),
    "returned_dead_after_immersion": (0.0, "Find out why a dead aid went back to its wearer."),
    "returned_unchecked_after_immersion": (0.0, "Check each immersed aid before it is returned."),
    "seen_after_gone": (0.0, "Correct the event or the id: the aid was lost, retired or replaced."),
    "chambers_without_check": (0.0, "Run a dose check on each chamber that has none in time."),
    "nothing_for_two_weeks": (0.0, "Send the site's newest export."),
}  # fmt: skip


def infer(counts: dict[str, pl.DataFrame], _settings: Settings) -> pl.DataFrame:
    """Add share, threshold, verdict and advice to each count.

    Args:
        counts: `data_quality`: numerator and denominator by site, month and check.

    Returns:
        The table data_quality.
    """
    told = pl.DataFrame(
        [(name, limit, advice) for name, (limit, advice) in CHECKS.items()],
        schema={"check_name": pl.String, "threshold": pl.Float64, "advice": pl.String},
        orient="row",
    )
    frame = (
        counts["data_quality"]
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
    name="data_quality",
    schema=DataQuality,
    queries=("data_quality",),
    infer=infer,
    needs=("measurement_repeatability", "utilisation", "dryer_calibration"),
)
