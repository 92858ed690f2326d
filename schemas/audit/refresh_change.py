"""Refresh change: what a run changed, from the warehouse published before to the next."""

from schemas import vocabulary as words
from schemas.declare import Table, column


class RefreshChange(Table):
    """One row per change of the newest run: a file, or an item of the attention list.

    A new file is late where its newest row is no later than its clinic's newest of before.
    Rows of a corrected file are compared with its earlier version's, whole and in any order.
    Empty after a first run but for its files. Left out of the shared edition.
    Key: change_kind, site_id, subject.
    """

    change_kind: str = column("What changed.", vocabulary=words.CHANGE_KIND, required=True)
    site_id: str = column("The clinic; null where it is the group's.")
    subject: str = column("The file, or the item of the attention list.", required=True)
    table_name: str = column("Table of the file; null for an item.")
    severity: str = column("Severity of the item; null for a file.", vocabulary=words.SEVERITY)
    rows_read: int = column("Rows read of the file.", unit="rows", ge=0)
    rows_changed: int = column(
        "Rows of a corrected file that its earlier version did not hold: new, or read otherwise.",
        unit="rows", ge=0,
    )  # fmt: skip
    rows_gone: int = column(
        "Rows of the earlier version that the corrected file does not hold.", unit="rows", ge=0
    )
    first_lines: str = column("The first lines of the changed rows, in the new file.")
    months: str = column("Months of the changed rows and of those gone, as 2026-03; or the file's.")
    words: str = column("The change in a sentence.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "refresh_change"
        metadata = {"key": ("change_kind", "site_id", "subject")}  # noqa: RUF012
