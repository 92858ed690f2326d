"""Dryer event: a service, a changed part, a move."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class DryerEvent(Table):
    """One row per service, changed sensor or seal, or move of a chamber.

    Key: site_id, dryer_id, occurred_on, event.
    """

    site_id: str = column("The clinic; looked up from the chamber where not given.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    occurred_on: pl.Date = column("Day of the event.", required=True)
    event: str = column("What was done.", vocabulary=words.DRYER_EVENT, required=True)
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer_event"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "occurred_on", "event"),
        }
