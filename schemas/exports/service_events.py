"""Service events: what became of an aid outside the drying sessions."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class ServiceEvents(Table):
    """One row per event of one aid on one day.

    Key: site_id, device_id, occurred_on, event.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    device_id: str = column("The aid.", hashed="device", required=True)
    occurred_on: pl.Date = column("Day of the event.", required=True)
    event: str = column("What happened.", vocabulary=words.SERVICE_EVENT, required=True)
    new_device_id: str = column("The aid that took its place.", hashed="device")
    in_warranty: bool = column("Whether the aid was in warranty.")
    cost: float = column(
        "What it cost the group.", unit="the group's currency", resolution=0.01, ge=0, le=1e6
    )
    days_without_device: float = column(
        "Days the wearer was without an aid.", unit="days", resolution=0.1, ge=0, le=3660
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "service_events"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "occurred_on", "event"),
        }
