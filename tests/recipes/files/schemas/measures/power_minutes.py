"""Minutes in the chamber by what powers the aid."""

from schemas import vocabulary as words
from schemas.declare import Table, column


class PowerMinutes(Table):
    """One row per power source.

    Key: power_source.
    """

    power_source: str = column("What powers the aid.", vocabulary=words.POWER_SOURCE, required=True)
    n: int = column("Dried aids.", unit="aids", ge=0, required=True)
    mean_minutes: float = column("Mean length of their cycles.", unit="minutes", ge=0)

    class Config(Table.Config):
        """The table's name and key."""

        name = "power_minutes"
        metadata = {"key": ("power_source",)}  # noqa: RUF012
