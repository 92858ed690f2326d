"""Visit count: aids seen in a month, dried or not."""

import polars as pl

from schemas.declare import Table, column
from schemas.exports.visit_counts import VisitCounts
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(VisitCounts)


class VisitCount(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per clinic, month and reason.

    Key: site_id, month, visit_reason.
    """

    month: pl.Date = column("First day of the month.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "visit_count"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month", "visit_reason"),
        }
