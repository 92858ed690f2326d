"""Correction: every reviewed fix a clinic wrote down, and whether it was applied."""

from schemas.declare import Table, column


class Correction(Table):
    """One row per line of a clinic's list of corrections.

    A correction that matches no row, or more than one, is listed and not applied.
    Key: site_id, line.
    """

    site_id: str = column("The clinic.", required=True)
    line: int = column("Line of the correction in the clinic's list.", ge=1, required=True)
    table_name: str = column("The export table it corrects.", required=True)
    match_columns: str = column(
        "Columns the row was found by, joined by ';'; their values are not kept.", required=True
    )
    column_name: str = column("The column corrected.", required=True)
    value: str = column("The value put in; null where the column is an identifier.")
    reason: str = column("Why, in the clinic's words.", required=True)
    decided_by: str = column("Role of the person who decided.", required=True)
    rows_matched: int = column("Rows it matched; one is needed.", unit="rows", ge=0, required=True)
    is_applied: bool = column("It matched one row and was applied.", required=True)
    file_id: str = column("The file version of the row corrected; null where not applied.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "correction"
        metadata = {"key": ("site_id", "line")}  # noqa: RUF012
