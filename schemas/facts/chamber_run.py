"""Chamber run: every run of a chamber's log, and whether an aid was recorded for it."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column


class ChamberRun(Table):
    """One row per run of a chamber's log that counts.

    Key: site_id, dryer_id, started_at_utc.
    """

    site_id: str = column("The clinic.", required=True)
    dryer_id: str = column("The chamber; the site's only one where the log names none.")
    started_at_utc: INSTANT = column("Start of the run.", required=True)
    local_date: pl.Date = column("Day of the run at the site.", required=True)
    session_id: str = column("The session, where the log names it.", hashed="session")
    run_class: str = column(
        "Whether a record of an aid fits the run, none does, or it cannot be told which do.",
        vocabulary=words.RUN_CLASS, required=True,
    )  # fmt: skip
    aids_recorded: int = column("Records of aids that fit.", unit="aids", ge=0, required=True)
    cycle_minutes: float = column("Length of the cycle.", unit="minutes", ge=0)
    moisture_ul: float = column("Water reading of the whole load.", unit="µL", ge=0)
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "chamber_run"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "started_at_utc"),
            "moment": "started_at_utc",
        }
