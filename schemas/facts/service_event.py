"""Service event: what happened to an aid away from the chamber."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class ServiceEvent(Table):
    """One row per event of an aid.

    Key: site_id, device_id, occurred_on, event.
    """

    site_id: str = column("The clinic.", required=True)
    device_id: str = column("The aid.", hashed="device", required=True)
    occurred_on: pl.Date = column("Day of the event.", required=True)
    event: str = column("What happened.", vocabulary=words.SERVICE_EVENT, required=True)
    new_device_id: str = column("The aid that replaced it.", hashed="device")
    in_warranty: bool = column("The aid was in warranty.")
    cost: float = column("What it cost.", unit="the group's currency", ge=0)
    days_without_device: float = column("Days the wearer was without it.", unit="days", ge=0)
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "service_event"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "occurred_on", "event"),
        }
