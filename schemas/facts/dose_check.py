"""Dose check: a known volume of water in an empty chamber."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column


class DoseCheck(Table):
    """One row per dose check.

    Key: site_id, dryer_id, checked_at_utc, replicate.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    checked_at_utc: INSTANT = column("Moment of the check.", required=True)
    local_date: pl.Date = column("Day of it in the site's zone.", required=True)
    time_precision: str = column(
        "Whether the clock time was given, or the day alone (then local noon is stored).",
        vocabulary=words.TIME_PRECISION,
    )
    replicate: int = column("Number among checks of one moment.", required=True)
    dose_ul: float = column("Water put in; 0 is a blank.", unit="µL", ge=0, required=True)
    reading_ul: float = column("What the chamber read.", unit="µL", ge=0, required=True)
    dose_method: str = column("How the dose was measured.", vocabulary=words.DOSE_METHOD)
    dose_uncertainty_pct: float = column("Uncertainty of the dose.", unit="% of the dose")
    ambient_temp_c: float = column("Room temperature.", unit="°C")
    ambient_rh_pct: float = column("Relative humidity of the room.", unit="%")
    barometer_kpa: float = column("Air pressure of the room.", unit="kPa")
    error_ul: float = column("Reading less dose.", unit="µL", required=True)
    tolerance_ul: float = column(
        "Tolerated error: the larger of the share of the dose and the floor.", unit="µL",
        required=True,
    )  # fmt: skip
    is_within_tolerance: bool = column("The error is tolerated; null for a blank.")
    valid_from: pl.Date = column(
        "Day of the chamber's last service, changed part or move before the check; null if none."
    )
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dose_check"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "checked_at_utc", "replicate"),
            "moment": "checked_at_utc",
        }
