"""Data quality: what is wrong with the data, where, and what to do."""

import polars as pl

from schemas.declare import Table, column
from schemas.measure_words import CHECK_KIND


class DataQuality(Table):
    """One row per site, month and check.

    Key: site_id, month, check_name.
    """

    site_id: str = column("The clinic.", required=True)
    month: pl.Date = column(
        "First day of the month; null for a check of the present state, or where the rows"
        " refused name no day.",
    )
    check_name: str = column("What was checked.", required=True)
    kind: str = column(
        "Whether it asks for the contract, for what is there, or for what can be true.",
        vocabulary=CHECK_KIND, required=True,
        source="Kahn and others 2016, eGEMs 4:1244",
    )  # fmt: skip
    denominator_of: str = column("What the denominator counts.", required=True)
    numerator: int = column("What the check found.", unit="count", ge=0, required=True)
    denominator: int = column("Out of how many.", unit="count", ge=0, required=True)
    share: float = column("Found over checked; null where nothing was checked.",
                          unit="share 0-1", ge=0, le=1)  # fmt: skip
    threshold: float = column(
        "Largest share that is tolerated.", unit="share 0-1", ge=0, required=True
    )
    is_over: bool = column("The share is over the threshold.", required=True)
    advice: str = column("What to do.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "data_quality"
        metadata = {"key": ("site_id", "month", "check_name"), "moment": "month"}  # noqa: RUF012
