"""Devices: static facts of aids, which their sessions inherit."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class Devices(Table):
    """One row per aid.

    Key: site_id, device_id.
    """

    site_id: str = column("The clinic.", required=True)
    device_id: str = column("The aid.", hashed="device", required=True)
    patient_id: str = column("The wearer.", hashed="wearer")
    device_style: str = column("Build of the aid.", vocabulary=words.DEVICE_STYLE)
    power_source: str = column("Kind of cell.", vocabulary=words.POWER_SOURCE)
    model_code: str = column("Model, only where listed in device_models.")
    receiver_code: str = column("Receiver variant, only where listed in device_models.")
    fitted_on: pl.Date = column("Day the aid was fitted.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "devices"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id"),
        }
