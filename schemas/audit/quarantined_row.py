"""Quarantined row: every row that does not count, and why."""

from schemas.declare import Table, column


class QuarantinedRow(Table):
    """One row per row of a live file that does not count, rule it fails and column named.

    Duplicates are listed too, under the codes duplicate and conflicting_duplicate.
    Key: file_id, line, part_of_line, table_name, rule, column_name.
    """

    file_id: str = column("The file version.", required=True)
    file: str = column("Folder and name of the file.", required=True)
    line: int = column("Physical line where the record starts.", ge=1, required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)
    table_name: str = column("The export table.", required=True)
    rule: str = column("The code of the rule the row fails.", required=True)
    sentence: str = column("The rule as the clinic reads it.", required=True)
    column_name: str = column("The column at fault; null where it is the whole row.")
    found: str = column(
        "What stood there, if sound by type or among the words allowed; otherwise its shape,"
        " such as 'text, 14 characters'."
    )
    advice: str = column("What the clinic can do about it.")
    row_json: str = column(
        "The row's declared columns, cells shown as 'found' is; null for duplicates."
    )
    resolved_by_file_id: str = column("The later version in which the row is sound; null so far.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "quarantined_row"
        metadata = {  # noqa: RUF012
            "key": ("file_id", "line", "part_of_line", "table_name", "rule", "column_name"),
        }
