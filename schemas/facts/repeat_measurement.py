"""Repeat measurement: one aid measured twice, nothing done between."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column


class RepeatMeasurement(Table):
    """One row per pair of measurements of one aid, re-seated between them.

    Key: site_id, device_id, measured_at_utc, test_box_id, replicate.
    """

    site_id: str = column("The clinic.", required=True)
    device_id: str = column("The aid.", hashed="device")
    measured_at_utc: INSTANT = column("Moment of the first measurement.", required=True)
    local_date: pl.Date = column("Day of it in the site's zone.", required=True)
    time_precision: str = column(
        "Whether the clock time was given, or the day alone (then local noon is stored).",
        vocabulary=words.TIME_PRECISION,
    )
    test_box_id: str = column("Coupler test box as listed, else box 1, 2 ... of the site.")
    replicate: int = column("Number among pairs of one moment.", required=True)
    first_hfa_ospl90_db_spl: float = column("First HFA OSPL90.", unit="dB SPL")
    first_hfa_gain_db: float = column("First HFA gain.", unit="dB")
    first_ein_db_spl: float = column("First equivalent input noise.", unit="dB SPL")
    first_thd_pct: float = column("First total harmonic distortion.", unit="%")
    second_hfa_ospl90_db_spl: float = column("Second HFA OSPL90.", unit="dB SPL")
    second_hfa_gain_db: float = column("Second HFA gain.", unit="dB")
    second_ein_db_spl: float = column("Second equivalent input noise.", unit="dB SPL")
    second_thd_pct: float = column("Second total harmonic distortion.", unit="%")
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "repeat_measurement"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "measured_at_utc", "test_box_id", "replicate"),
            "moment": "measured_at_utc",
        }
