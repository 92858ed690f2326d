"""Dryers: the chambers of each clinic."""

import pandera.polars as pa
import polars as pl

from schemas.declare import Table, column, holds, rule


class Dryers(Table):
    """One row per chamber at a clinic.

    Key: site_id, dryer_id.
    """

    site_id: str = column("The clinic it stands in.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    installed_on: pl.Date = column("First day of use.")
    removed_on: pl.Date = column("Last day of use.")
    detection_limit_ul: float = column(
        "Stated detection limit of a reading.", unit="µL", resolution=0.01, ge=0, le=100
    )
    dose_tolerance_pct: float = column(
        "Tolerated error of a dose check; 10 where absent.", unit="% of the dose",
        resolution=0.1, gt=0, le=100, source="common practice, no source",
    )  # fmt: skip
    dose_tolerance_floor_ul: float = column(
        "Least tolerated error; 0.2 where absent.", unit="µL", resolution=0.01, ge=0, le=10
    )
    stated_cycle_minutes: float = column(
        "Shortest cycle its maker states; without it no saving by shorter cycles is shown.",
        unit="minutes", resolution=1, gt=0, le=1440,
    )  # fmt: skip
    reading_principle: str = column("What the chamber really measures.", text=True)

    @rule(
        "a chamber is removed on or after the day it was installed",
        refuses=("removed_on",),
        advice="check both days",
    )
    def removed_after_start(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("installed_on") <= pl.col("removed_on"))

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryers"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id"),
        }
