"""Dryer events: what may change a chamber's readings."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class DryerEvents(Table):
    """One row per event of one chamber.

    Key: site_id, dryer_id, occurred_on, event.
    """

    site_id: str = column("The clinic; needed where two clinics name a chamber alike.")
    dryer_id: str = column("The chamber.", required=True)
    occurred_on: pl.Date = column("Day of the event.", required=True)
    event: str = column("What was done.", vocabulary=words.DRYER_EVENT, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer_events"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "occurred_on", "event"),
        }
