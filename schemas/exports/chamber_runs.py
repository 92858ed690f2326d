"""Chamber runs: the log of a chamber that keeps no record of aids."""

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column


class ChamberRuns(Table):
    """One row per run of a chamber, to be joined to the sessions that name its aids.

    Key: site_id, dryer_id, started_at.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    dryer_id: str = column("The chamber; may be absent where a site has one.")
    started_at: INSTANT = column(
        "Start of the run, local to the site unless an offset is given.", required=True
    )
    session_id: str = column("The session, where the log names it.", hashed="session")
    match_window_minutes: float = column(
        "A record of the same chamber that starts so near is of this run; null joins by session"
        " only.",
        unit="minutes", resolution=0.1, ge=0, le=720,
    )  # fmt: skip
    cycle_programme: str = column("Programme of the chamber.")
    cycle_minutes: float = column(
        "Length of the cycle; flagged over the setting cycle_minutes_flag.",
        unit="minutes",
        resolution=0.1,
        gt=0,
        le=1440,
    )
    ended_by: str = column("What ended the cycle.", vocabulary=words.ENDED_BY)
    moisture_ul: float = column(
        "Water reading of the whole load, one per session.", unit="µL", resolution=0.01,
        ge=0, le=2000,
    )  # fmt: skip
    is_moisture_below_detection: bool = column(
        "The chamber reported 'below detection' in place of a reading."
    )
    chamber_pressure_min_kpa_abs: float = column(
        "Lowest pressure of the cycle, absolute.", unit="kPa", resolution=0.01, ge=0.1, le=110
    )
    chamber_temp_max_c: float = column(
        "Highest chamber temperature of the cycle.", unit="°C", resolution=0.1, ge=0, le=80
    )

    class Config(Table.Config):
        """Where the table's files and rows are told apart."""

        name = "chamber_runs"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "started_at"),
            "moment": "started_at",
        }
