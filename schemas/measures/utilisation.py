"""Utilisation: is each chamber used?"""

import polars as pl

from schemas.declare import Table, column


class Utilisation(Table):
    """One row per chamber and month, from the site's first to its last month with data.

    A site's month without a chamber on its sessions has a row with a null chamber.
    Key: site_id, dryer_id, month.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber; null where the sessions name none.")
    month: pl.Date = column("First day of the month.", required=True)
    runs: int = column("Cycles run.", unit="cycles", ge=0, required=True)
    open_days: float = column(
        "Days open in the part of the month covered while the chamber stood there, by the site's"
        " days a week.",
        unit="days", ge=0,
    )  # fmt: skip
    runs_per_open_day: float = column("Cycles per open day.", unit="cycles per day", ge=0)
    aids_dried: int = column("Aids dried in the chamber.", unit="aids", ge=0, required=True)
    checked_aids_dried: int = column(
        "Aids of the site dried at a clean-and-check.", unit="aids", ge=0, required=True
    )
    checked_aids_seen: int = column(
        "Aids of the site seen at a clean-and-check; null without counts of visits.",
        unit="aids", ge=0,
    )  # fmt: skip
    checked_aids_dried_share: float = column(
        "Dried over seen; null without counts of visits.", unit="share 0-1", ge=0, le=1
    )
    dead_dried: int = column(
        "Aids of the site dead on arrival and dried, once a day.", unit="aids", ge=0, required=True
    )
    dead_seen: int = column(
        "Aids of the site dead on arrival; null without counts of visits.", unit="aids", ge=0
    )
    weeks_covered: int = column(
        "Weeks of the site, by their Monday, between its first and its last day with data.",
        unit="weeks", ge=0, required=True,
    )  # fmt: skip
    weeks_without_data: int = column(
        "Weeks of the site, by their Monday, without any session.", unit="weeks", ge=0,
        required=True,
    )  # fmt: skip
    idle_weeks: int = column(
        "Weeks, by their Monday, in which the site worked and this chamber did not.",
        unit="weeks", ge=0, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "utilisation"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "month"), "moment": "month",
        }  # fmt: skip
