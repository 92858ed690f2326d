"""What moves with the day alone, apart from its table: a new day makes few figures anew."""

import polars as pl

from reports import rates
from reports.figure import Frames

TABLE, KEYS = "dryer_calibration", ("site_id", "dryer_id")
DAYS, SHOWN = "chamber_days", "days_since_check"
MOVING = (SHOWN, "counted_on")


def days_apart(frames: Frames) -> Frames:
    """Move the days since a chamber's last check to a table of their own."""
    whole = rates.table(frames, TABLE)
    if SHOWN not in whole.columns:
        return frames
    rest = whole.drop(name for name in MOVING if name in whole.columns)
    return {**frames, TABLE: rest, DAYS: whole.select(*KEYS, SHOWN)}


def with_days(chambers: pl.DataFrame, frames: Frames) -> pl.DataFrame:
    """Return chambers with the days since their last check, in the same order."""
    if SHOWN in chambers.columns:
        return chambers
    return chambers.join(rates.table(frames, DAYS), on=KEYS, how="left", maintain_order="left")
