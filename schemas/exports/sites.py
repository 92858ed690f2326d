"""Sites: the group's clinics."""

import pandera.polars as pa
import polars as pl

from schemas.declare import Table, column, holds, rule


class Sites(Table):
    """One row per clinic.

    Key: site_id.
    """

    site_id: str = column("The clinic's id, as its folder is named.", required=True)
    site_name: str = column("Name shown on pages.", text=True, required=True)
    latitude: float = column(
        "Latitude, south negative.", unit="degrees", resolution=0.0001, ge=-90, le=90,
        required=True,
    )  # fmt: skip
    longitude: float = column(
        "Longitude, west negative.", unit="degrees", resolution=0.0001, ge=-180, le=180
    )
    elevation_m: float = column("Height above sea level.", unit="m", resolution=1, ge=-430, le=6000)
    time_zone: str = column("IANA time zone, such as Europe/Paris.", required=True)
    opened_on: pl.Date = column("First day of work.")
    closed_on: pl.Date = column("Last day of work.")
    successor_site_id: str = column("The clinic that took over.")
    open_days_per_week: float = column(
        "Days of work in a week.", unit="days per week", resolution=0.5, gt=0, le=7
    )

    @rule(
        "a clinic closes on or after the day it opened",
        refuses=("closed_on",),
        advice="check both days",
    )
    def closes_after_opening(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("opened_on") <= pl.col("closed_on"))

    class Config(Table.Config):
        """The table's name and key."""

        name = "sites"
        metadata = {  # noqa: RUF012
            "key": ("site_id",),
        }
