"""Setting: every choice of the group that shaped the numbers."""

from schemas.declare import Table, column


class Setting(Table):
    """One row per setting in force at the last run.

    Key: name.
    """

    name: str = column("The setting, sections joined by '.'.", required=True)
    value: str = column("Its value in force, as text.", required=True)
    default_value: str = column("What it is where the group says nothing.", required=True)
    is_changed: bool = column("The group chose another value than the default.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "setting"
        metadata = {"key": ("name",)}  # noqa: RUF012
