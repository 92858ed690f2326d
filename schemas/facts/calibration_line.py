"""Calibration line: what a chamber's dose checks say of its readings, from one day on."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class CalibrationLine(Table):
    """One row per chamber and day of a dose check or of a service, changed part or move.

    The row holds from that day until the next; readings are corrected by the row of their day.
    Errors in tolerances are those of checks with water since the chamber's last service, changed
    part or move: one tolerance is the larger of the share of the dose and the floor.

    Key: site_id, dryer_id, known_from.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    known_from: pl.Date = column("First day on which it holds.", required=True)
    served_on: pl.Date = column("Last service, changed part or move up to then; null if none.")
    last_checked_on: pl.Date = column("Last check with water since the service; null without any.")
    checks: int = column("Checks with water since the service.", unit="checks", ge=0, required=True)
    checks_in_180_days: int = column(
        "Of them those of the 180 days before.", unit="checks", ge=0, required=True
    )
    checked_days_in_180: int = column(
        "Days of those checks; one day is one observation.", unit="days", ge=0, required=True
    )
    doses: int = column(
        "Different doses among those that the line takes.", unit="doses", ge=0, required=True
    )
    bias: str = column(
        "Outside: the limits of the mean error lie beyond half a tolerance; within: they lie"
        " inside the tolerance.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    mean_error_tolerances: float = column(
        "Mean over the days of 180 of the day's mean error; null under six days.",
        unit="tolerances",
    )  # fmt: skip
    mean_error_low_tolerances: float = column("Lower 99 % limit of it.", unit="tolerances")
    mean_error_high_tolerances: float = column("Upper 99 % limit of it.", unit="tolerances")
    scatter: str = column(
        "Outside: 1.96 deviations of a single check are beyond the tolerance, by the lower limit of"
        " the deviation, and also without the check that fits least.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    scatter_sd_tolerances: float = column(
        "Deviation of single checks of 180 days about line and slope; null under six days.",
        unit="tolerances", ge=0,
    )  # fmt: skip
    scatter_sd_low_tolerances: float = column("Lower 99 % limit of it.", unit="tolerances", ge=0)
    drift: str = column(
        "Outside: the change in half a year is clear of 0 at 99.9 % and beyond half a tolerance.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    half_year_drift_tolerances: float = column(
        "Change of the error in half a year, by the checks of 365 days; null under six days or"
        " under 90 days of span.",
        unit="tolerances",
    )  # fmt: skip
    half_year_drift_low_tolerances: float = column("Lower 99.9 % limit.", unit="tolerances")
    half_year_drift_high_tolerances: float = column("Upper 99.9 % limit.", unit="tolerances")
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
    corrected_error_rms_tolerances: float = column(
        "Root mean square of the errors of checks with water, each corrected by the line of all"
        " others.",
        unit="tolerances", ge=0,
    )  # fmt: skip
    lowest_dose_ul: float = column("Lowest dose checked; 0 with a blank.", unit="µL", ge=0)
    highest_dose_ul: float = column("Highest dose checked.", unit="µL", ge=0)
    blank_limit_ul: float = column(
        "Mean of blanks and three of their deviations; null under two blanks.", unit="µL"
    )
    is_applied: bool = column(
        "The line is applied to readings: six days or more with eight checks or more at two doses"
        " or more, no scatter or drift outside, and 1.645 times the root mean square within the"
        " tolerance. While a retest is open, line and answer are those of before it.",
        required=True,
    )  # fmt: skip
    standing: str = column(
        "Standing of the chamber while its checks are in time.", vocabulary=words.STANDING,
        required=True,
    )  # fmt: skip
    reading_standing: str = column(
        "The same for readings: while a retest is open, the standing of before it.",
        vocabulary=words.STANDING, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "calibration_line"
        metadata = {"key": ("site_id", "dryer_id", "known_from")}  # noqa: RUF012
