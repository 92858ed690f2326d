"""Visit counts: how many aids were seen, dried or not, month by month."""

import pandera.polars as pa
import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column, holds, rule


class VisitCounts(Table):
    """One row per month and visit reason.

    Key: site_id, month, visit_reason.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    month: pl.Date = column("First day of the month; written as 2026-03.", required=True)
    visit_reason: str = column(
        "Why the wearers came.", vocabulary=words.VISIT_REASON, required=True
    )
    aids_seen: int = column("Aids seen, dried or not.", unit="aids", ge=0, le=1e6, required=True)
    dead_seen: int = column("Dead aids among them.", unit="aids", ge=0, le=1e6)
    weak_seen: int = column("Weak aids among them.", unit="aids", ge=0, le=1e6)

    @rule(
        "no more aids are dead than were seen",
        refuses=("dead_seen",),
        advice="check both counts of that month",
    )
    def dead_among_seen(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("dead_seen") <= pl.col("aids_seen"))

    @rule(
        "no more aids are weak than were seen",
        refuses=("weak_seen",),
        advice="check both counts of that month",
    )
    def weak_among_seen(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("weak_seen") <= pl.col("aids_seen"))

    class Config(Table.Config):
        """The table's name and key."""

        name = "visit_counts"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month", "visit_reason"),
        }
