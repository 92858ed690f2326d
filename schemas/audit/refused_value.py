"""Refused value: every single value that was set to null, and why."""

from schemas.declare import Table, column


class RefusedValue(Table):
    """One row per value set to null in a row that was kept, and rule it fails.

    Key: file_id, line, part_of_line, table_name, column_name, rule.
    """

    file_id: str = column("The file version.", required=True)
    file: str = column("Folder and name of the file.", required=True)
    line: int = column("Physical line where the record starts.", ge=1, required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)
    table_name: str = column("The export table.", required=True)
    rule: str = column("The code of the rule the value fails.", required=True)
    sentence: str = column("The rule as the clinic reads it.", required=True)
    column_name: str = column("The column that was set to null.", required=True)
    found: str = column(
        "What stood there, if sound by type or among the words allowed; otherwise its shape,"
        " such as 'text, 14 characters'."
    )
    advice: str = column("What the clinic can do about it.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "refused_value"
        metadata = {  # noqa: RUF012
            "key": ("file_id", "line", "part_of_line", "table_name", "column_name", "rule"),
        }
