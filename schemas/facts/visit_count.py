"""Visit count: aids seen in a month, dried or not."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class VisitCount(Table):
    """One row per clinic, month and reason.

    Key: site_id, month, visit_reason.
    """

    site_id: str = column("The clinic.", required=True)
    month: pl.Date = column("First day of the month.", required=True)
    visit_reason: str = column("Why wearers came.", vocabulary=words.VISIT_REASON, required=True)
    aids_seen: int = column("Aids seen, dried or not.", unit="aids", ge=0, required=True)
    dead_seen: int = column("Of them dead on arrival.", unit="aids", ge=0)
    weak_seen: int = column("Of them weak on arrival.", unit="aids", ge=0)
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "visit_count"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month", "visit_reason"),
        }
