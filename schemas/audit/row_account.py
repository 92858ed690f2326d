"""Row account: where every row of every file went."""

import pandera.polars as pa
import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column, holds, rule


class RowAccount(Table):
    """One row per file version, member of it and table.

    Rows read are accepted, quarantined or duplicate; a refused file has none.
    Key: file_id, member, table_name.
    """

    file_id: str = column("The file version.", required=True)
    file: str = column("Folder and name of the file.", required=True)
    site_id: str = column("The clinic; null for reference tables.")
    member: str = column("The file within a zip; null where the file is no zip.")
    table_name: str = column("The export table; null where the name tells none.")
    lines_read: int = column(
        "Records read; one may hold several rows, as a visit with two aids does.",
        unit="lines", ge=0, required=True,
    )  # fmt: skip
    rows_read: int = column(
        "Rows of data made of them, broken records among them.", unit="rows", ge=0, required=True
    )
    accepted: int = column("Rows that count.", unit="rows", ge=0, required=True)
    quarantined: int = column(
        "Rows refused whole by a rule, each once however many rules it fails.",
        unit="rows", ge=0, required=True,
    )  # fmt: skip
    duplicate: int = column(
        "Rows of a key that another row holds already, with the same or other content.",
        unit="rows", ge=0, required=True,
    )  # fmt: skip
    skipped_lines: int = column(
        "Blank lines, comments, total rows and repeated headers; not among the rows read.",
        unit="lines", ge=0, required=True,
    )  # fmt: skip
    values_refused: int = column(
        "Values set to null in rows that were kept.", unit="values", ge=0, required=True
    )
    withdrawn: int = column(
        "Of the quarantined: rows that the version before had accepted, told by their key.",
        unit="rows", ge=0, required=True,
    )  # fmt: skip
    status: str = column("What became of the file.", vocabulary=words.FILE_STATUS, required=True)
    is_live: bool = column("Its rows are in the warehouse.", required=True)
    run_id: str = column("The run that closed the account.", required=True)

    @rule(
        "every row read is accepted, quarantined or duplicate",
        advice="a defect of the program, not of the file; keep the file and report it",
    )
    def balances(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        kept = pl.col("accepted") + pl.col("quarantined") + pl.col("duplicate")
        return holds(data, (pl.col("rows_read") == kept) | ~pl.col("is_live"))

    class Config(Table.Config):
        """The table's name and key."""

        name = "row_account"
        metadata = {"key": ("file_id", "member", "table_name")}  # noqa: RUF012
