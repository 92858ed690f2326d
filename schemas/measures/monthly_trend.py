"""Monthly trend: shares and medians month by month, with what chance alone would do."""

import polars as pl

from schemas.declare import Table, column
from schemas.measure_words import LIMITS, SERIES, SIGNAL, SIGNAL_RULE


class MonthlyTrend(Table):
    """One row per series, site and month with data; a null site is all sites together.

    Key: series, site_id, month.
    """

    series: str = column("What is followed.", vocabulary=SERIES, required=True)
    site_id: str = column("The clinic; null for all.")
    month: pl.Date = column("First day of the month.", required=True)
    n: int = column("Aids, or loads of one aid.", unit="count", ge=0, required=True)
    counted: int = column("Of them counted by the series; null for a median.", unit="aids", ge=0)
    value: float = column(
        "Share, or median; null for a median that depends on readings below detection.",
        unit="share 0-1 or µL per aid",
        ge=0,
    )
    centre: float = column("Centre of the series.", unit="share 0-1 or µL per aid", ge=0)
    low: float = column("Lower limit of what chance alone does.", unit="share 0-1", ge=0, le=1)
    high: float = column("Upper limit of what chance alone does.", unit="share 0-1", ge=0, le=1)
    signal: str = column("Side of a signal.", vocabulary=SIGNAL)
    rule: str = column("The rule that signals.", vocabulary=SIGNAL_RULE)
    limits: str = column("How the limits were found; null without limits.", vocabulary=LIMITS)
    p_value: float = column(
        "Of the whole series: chance of so strong a signal where nothing changed.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    p_adjusted: float = column(
        "The same, adjusted for the number of series (Benjamini-Hochberg).", unit="share 0-1",
        ge=0, le=1,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "monthly_trend"
        metadata = {"key": ("series", "site_id", "month"), "moment": "month"}  # noqa: RUF012
