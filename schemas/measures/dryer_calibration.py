"""Dryer calibration: whose chamber reads right."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class DryerCalibration(Table):
    """One row per chamber, from dose checks since its last service, changed part or move.

    Key: site_id, dryer_id.
    """

    dryer_id: str = column("The chamber.", required=True)
    site_id: str = column("The clinic.", required=True)
    checks: int = column(
        "Dose checks with water, since the last service.", unit="checks", ge=0, required=True
    )
    doses: int = column(
        "Different doses among those of 180 days.", unit="doses", ge=0, required=True
    )
    checks_in_180_days: int = column(
        "Of them in the 180 days before the line was last known.", unit="checks", ge=0,
        required=True,
    )  # fmt: skip
    mean_error_ul: float = column("Mean of reading less dose.", unit="µL")
    mean_error_pct: float = column("Mean error over the dose.", unit="% of the dose")
    within_tolerance_share: float = column(
        "Share of checked days within tolerance: every check of the day with water was.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    checked_days: int = column(
        "Days with a dose check, blanks apart.", unit="days", ge=0, required=True
    )
    within_low: float = column("Wilson's lower limit of it.", unit="share 0-1", ge=0, le=1)
    within_high: float = column("Wilson's upper limit of it.", unit="share 0-1", ge=0, le=1)
    intercept_ul: float = column("Reading at no water, by the line.", unit="µL")
    slope: float = column("Reading per water put in, by the line.", unit="µL per µL")
    intercept_se_ul: float = column("Standard error of the intercept.", unit="µL", ge=0)
    slope_se: float = column("Standard error of the slope.", unit="µL per µL", ge=0)
    repeatability_sd_ul: float = column(
        "Deviation of repeated readings of one dose on one day; null without any.",
        unit="µL", ge=0,
    )  # fmt: skip
    agreement_low_ul: float = column(
        "Lower limit of agreement of the error, at the confidence level.", unit="µL"
    )
    agreement_high_ul: float = column(
        "Upper limit of agreement of the error, at the confidence level.", unit="µL"
    )
    bias: str = column(
        "Outside: the limits of the mean error lie beyond half a tolerance; within: they lie"
        " inside the tolerance.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    scatter: str = column(
        "Outside: 1.96 deviations of a single check are beyond the tolerance, by the lower limit of"
        " the deviation, and also without the check that fits least.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    drift: str = column(
        "Outside: the change in half a year is clear of 0 at 99.9 % and beyond half a tolerance.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    pump: str = column(
        "Outside: Wilson's lower limit of the share of cycles in which water could not have boiled"
        " is beyond a tenth; too few to say under 20 cycles.",
        vocabulary=words.CHAMBER_VERDICT, required=True,
    )  # fmt: skip
    checked_days_in_180: int = column(
        "Days with checks in the 180 days before the line was last known; bias and scatter rest"
        " on them.",
        unit="days", ge=0, required=True,
    )  # fmt: skip
    mean_error_tolerances: float = column(
        "Mean over those days of the day's mean error; null under six.", unit="tolerances"
    )
    mean_error_low_tolerances: float = column("Lower 99 % limit of it.", unit="tolerances")
    mean_error_high_tolerances: float = column("Upper 99 % limit of it.", unit="tolerances")
    scatter_sd_tolerances: float = column(
        "Deviation of single checks about line and slope; null under six days.",
        unit="tolerances", ge=0,
    )  # fmt: skip
    scatter_sd_low_tolerances: float = column("Lower 99 % limit of it.", unit="tolerances", ge=0)
    half_year_drift_tolerances: float = column(
        "Change of the error in half a year, by the checks of 365 days.", unit="tolerances"
    )
    half_year_drift_low_tolerances: float = column("Lower 99.9 % limit of it.", unit="tolerances")
    half_year_drift_high_tolerances: float = column("Upper 99.9 % limit of it.", unit="tolerances")
    corrected_error_rms_tolerances: float = column(
        "Root mean square of the errors of checks, each corrected by the line of all others.",
        unit="tolerances", ge=0,
    )  # fmt: skip
    is_applied: bool = column(
        "The line is applied to readings: corrected, they hold the tolerance.", required=True
    )
    blank_ul: float = column("Mean reading of blanks.", unit="µL")
    blanks: int = column("Blanks.", unit="checks", ge=0, required=True)
    last_checked_on: pl.Date = column(
        "Day of the last check with water since the last service; null without any."
    )
    days_since_check: int = column("Days from it to the day of reckoning.", unit="days", ge=0)
    removed_on: pl.Date = column(
        "Last day of use of a chamber removed before the run's day; null while in use."
    )
    counted_on: pl.Date = column(
        "Day of reckoning: the run's, or that of the chamber's removal.", required=True
    )
    last_loaded_on: pl.Date = column(
        "Last day with a session or dose check of the site, up to the day of reckoning."
    )
    service_events: int = column(
        "Services, changed parts and moves.", unit="events", ge=0, required=True
    )
    last_served_on: pl.Date = column("Day of the last of them.")
    last_service_event: str = column("What was done on that day; several joined by ';'.")
    cycles_with_pressure: int = column(
        "Cycles whose lowest pressure and highest temperature were recorded.", unit="cycles",
        ge=0, required=True,
    )  # fmt: skip
    cycles_boiling_not_possible: int = column(
        "Of them those in which water could not have boiled; not proof of a failed cycle.",
        unit="cycles", ge=0, required=True,
    )  # fmt: skip
    boiling_not_possible_share: float = column(
        "Share of the cycles with pressure in which water could not have boiled.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    boiling_low: float = column("Wilson's lower limit of it.", unit="share 0-1", ge=0, le=1)
    boiling_high: float = column("Wilson's upper limit of it.", unit="share 0-1", ge=0, le=1)
    pump_cycles: int = column(
        "Cycles with pressure since the last service, in the 90 days up to the last day loaded;"
        " the pump's verdict rests on them.",
        unit="cycles", ge=0, required=True,
    )  # fmt: skip
    pump_cycles_short: int = column(
        "Of them those in which water could not have boiled.", unit="cycles", ge=0, required=True
    )
    pump_short_share: float = column("Their share.", unit="share 0-1", ge=0, le=1)
    pump_low: float = column("Wilson's lower limit of it.", unit="share 0-1", ge=0, le=1)
    pump_high: float = column("Wilson's upper limit of it.", unit="share 0-1", ge=0, le=1)
    height_error_low_pct: float = column(
        "Lower end of the misreading that the clinic's height alone may cause, by what the chamber"
        " measures; never used as a correction.",
        unit="%",
    )  # fmt: skip
    height_error_high_pct: float = column("Upper end of it.", unit="%")
    standing: str = column(
        "First that applies: never checked with water since the last service, overdue, scattering,"
        " drifting, out of tolerance, retest, correctable, misreading, in tolerance, too few"
        " checks; blanks are no checks.",
        vocabulary=words.STANDING, required=True,
    )  # fmt: skip
    standing_before_retest: str = column(
        "Standing that its readings keep while a retest is open; null otherwise.",
        vocabulary=words.STANDING,
    )  # fmt: skip
    remedy: str = column(
        "What it needs first: the standing's remedy; the pump's where the pump is outside and no"
        " service is due anyway.",
        vocabulary=words.CHAMBER_REMEDY, required=True,
    )  # fmt: skip
    standing_when_last_loaded: str = column(
        "The standing reckoned on the last day loaded: where data are old, what they said then.",
        vocabulary=words.STANDING, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer_calibration"
        metadata = {"key": ("site_id", "dryer_id")}  # noqa: RUF012
