"""Dryer: one drying chamber."""

import polars as pl

from schemas.declare import Table, column


class Dryer(Table):
    """One row per drying chamber.

    Key: site_id, dryer_id.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber.", required=True)
    installed_on: pl.Date = column("First day of use.")
    removed_on: pl.Date = column("Last day of use; null while in use.")
    detection_limit_ul: float = column("Least water it states to detect.", unit="µL", ge=0)
    dose_tolerance_pct: float = column(
        "Tolerated error of a dose check; 10 where not given.", unit="% of the dose", ge=0
    )
    dose_tolerance_floor_ul: float = column(
        "Least tolerated error of a dose check; 0.2 where not given.", unit="µL", ge=0
    )
    stated_cycle_minutes: float = column("Shortest cycle its maker states.", unit="minutes", gt=0)
    reading_principle: str = column("How the chamber measures water.")
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id"),
        }
