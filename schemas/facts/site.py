"""Site: one clinic of the group."""

import polars as pl

from schemas.declare import Table, column
from schemas.vocabulary import CLIMATE_GROUP


class Site(Table):
    """One row per clinic.

    Key: site_id.
    """

    site_id: str = column("The clinic.", required=True)
    site_name: str = column("Name the group knows it by.")
    latitude: float = column("Latitude, north positive.", unit="degrees", ge=-90, le=90)
    longitude: float = column("Longitude, east positive.", unit="degrees", ge=-180, le=180)
    elevation_m: float = column("Height above the sea.", unit="m", ge=-500, le=6000)
    time_zone: str = column("IANA time zone.")
    opened_on: pl.Date = column("First day of work.")
    closed_on: pl.Date = column("Last day of work; null while open.")
    successor_site_id: str = column("The clinic that took its wearers over.")
    open_days_per_week: float = column("Days open in a week.", unit="days per week", ge=0, le=7)
    climate: str = column(
        "Köppen-Geiger class of its 30-year monthly normals, or 'climate not given'.",
        required=True, source="Beck et al. 2018, doi:10.1038/sdata.2018.214",
    )  # fmt: skip
    climate_group: str = column("Main group of the class.", required=True, vocabulary=CLIMATE_GROUP)
    has_wet_and_dry_season: bool = column(
        "Seasons are wet and dry: a tropical climate, or within 10 degrees of the equator.",
        required=True,
    )
    last_local_date: pl.Date = column("Day of its last loaded session; null before the first.")
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "site"
        metadata = {  # noqa: RUF012
            "key": ("site_id",),
        }
