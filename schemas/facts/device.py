"""Device: one aid with an id, over its whole history here."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class Device(Table):
    """One row per aid that has an id.

    Key: site_id, device_id.
    """

    site_id: str = column("The clinic.", required=True)
    device_id: str = column("The aid.", hashed="device", required=True)
    wearer_key: str = column(
        "The wearer at its last session, or the aid where the wearer is not given.",
        required=True,
    )
    device_style: str = column("Build at its last session.", vocabulary=words.DEVICE_STYLE)
    is_outside_rates: bool = column(
        "Bone conduction, CROS transmitter or implant processor: outside every rate.",
        required=True,
    )
    power_source: str = column("Kind of cell, last recorded.", vocabulary=words.POWER_SOURCE)
    model_code: str = column("Model, last recorded.")
    receiver_code: str = column("Receiver variant, last recorded.")
    fitted_on: pl.Date = column("Day it was fitted.")
    first_local_date: pl.Date = column("Day of its first session.", required=True)
    last_local_date: pl.Date = column("Day of its last session.", required=True)
    sessions: int = column("Sessions and visits loaded.", unit="sessions", required=True)
    dried_sessions: int = column("Drying sessions loaded.", unit="sessions", required=True)
    episodes: int = column("Episodes of drying.", unit="episodes", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "device"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id"),
        }
