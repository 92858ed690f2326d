"""Calibration line: what a chamber's dose checks say of its readings, from one day on."""

import polars as pl

from schemas.declare import Table, column


class CalibrationLine(Table):
    """One row per chamber and day of a dose check or of a service, changed part or move.

    The row holds from that day until the next; readings are corrected by the row of their day.

    Key: site_id, dryer_id, known_from.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    known_from: pl.Date = column("First day on which it holds.", required=True)
    served_on: pl.Date = column("Last service, changed part or move up to then; null if none.")
    last_checked_on: pl.Date = column("Last check with water since the service; null without any.")
    is_last_tolerated: bool = column(
        "On the last day checked with water since the service every such check was within"
        " tolerance."
    )
    checks_in_180_days: int = column(
        "Checks with water since the service, of the 180 days before.", unit="checks", ge=0,
        required=True,
    )  # fmt: skip
    doses: int = column("Different doses among them.", unit="doses", ge=0, required=True)
    intercept_ul: float = column("Reading at no water, by the weighted line.", unit="µL")
    slope: float = column("Reading per water put in, by the weighted line.", unit="µL per µL")
    intercept_se_ul: float = column("Standard error of the intercept.", unit="µL", ge=0)
    slope_se: float = column("Standard error of the slope.", unit="µL per µL", ge=0)
    intercept_slope_correlation: float = column(
        "Correlation of the errors of intercept and slope.", unit="correlation", ge=-1, le=1
    )
    repeatability_sd_ul: float = column(
        "Deviation of repeated readings of one dose on one day; null without any.",
        unit="µL", ge=0,
    )  # fmt: skip
    drift_ewma: float = column(
        "Moving average of the error from the line, in its own standard errors.",
        unit="standard errors",
    )  # fmt: skip
    is_drifting: bool = column("The moving average left its limits; null under five checks.")
    lowest_dose_ul: float = column("Lowest dose checked; 0 with a blank.", unit="µL", ge=0)
    highest_dose_ul: float = column("Highest dose checked.", unit="µL", ge=0)
    blank_limit_ul: float = column(
        "Mean of blanks and three of their deviations; null under two blanks.", unit="µL"
    )
    is_stable: bool = column(
        "Five checks with water or more at two doses or more in 180 days, no drift, slope between"
        " a half and two: the line is applied.",
        required=True,
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "calibration_line"
        metadata = {"key": ("site_id", "dryer_id", "known_from")}  # noqa: RUF012
