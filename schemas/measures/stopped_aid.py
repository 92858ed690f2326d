"""Stopped aids: dried working aids that no longer worked afterwards, to be looked at."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class StoppedAid(Table):
    """One row per dried working aid that stopped working, whatever the reason of its visit.

    Named by the place of its row in the site's own export: no identifier, hashed or not, stands
    here. For this warehouse alone, never on a page. Stopped: dead or other fault afterwards, or
    weak unless a comparable pair of measures is not worse.
    Key: site_id, file, line, part_of_line.
    """

    site_id: str = column("The clinic.", required=True)
    file: str = column("Folder and name of the file that holds the row.", required=True)
    line: int = column("Line of the row in that file.", ge=1, required=True)
    part_of_line: int = column("Which of the aids on that line, from 1.", ge=1, required=True)
    local_date: pl.Date = column("Local day of the drying.", required=True)
    visit_reason: str = column("Why the wearer came.", vocabulary=words.VISIT_REASON)
    condition_after: str = column(
        "Condition after drying.", vocabulary=words.CONDITION, required=True
    )
    cell_in_chamber: str = column(
        "The cell that lay in the chamber with it.", vocabulary=words.CELL_IN_CHAMBER
    )
    disposition: str = column("Where the aid went.", vocabulary=words.DISPOSITION)
    is_in_comparison: bool = column(
        "One of the aids of routine_drying_verdict.all_dried_stopped.", required=True
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "stopped_aid"
        metadata = {"key": ("site_id", "file", "line", "part_of_line")}  # noqa: RUF012
