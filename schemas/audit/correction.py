"""Correction: every reviewed fix of a value, and whether it was applied."""

from schemas.declare import Table, column
from schemas.vocabulary import CORRECTION_STATUS


class Correction(Table):
    """One row per line of a site's corrections; identifiers and values are not kept.

    Key: site_id, line.
    """

    site_id: str = column("The clinic.", required=True)
    line: int = column("Line of corrections.csv.", ge=1, required=True)
    table_name: str = column("The export table.", required=True)
    column_name: str = column("The column corrected.", required=True)
    match_columns: str = column("Columns that tell the row, joined by ';'.", required=True)
    reason: str = column("Why, if in plain words; otherwise the text's shape.")
    decided_by: str = column("The role that decided, if in plain words; otherwise its shape.")
    status: str = column(
        "Applied where exactly one row of a file matches; otherwise why not.",
        vocabulary=CORRECTION_STATUS, required=True,
    )  # fmt: skip
    files_applied: int = column("Live files it changed a row of.", unit="files", ge=0,
                                required=True)  # fmt: skip
    rows_matched: int = column("Most rows of one live file that match.", unit="rows", ge=0,
                               required=True)  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "correction"
        metadata = {"key": ("site_id", "line")}  # noqa: RUF012
