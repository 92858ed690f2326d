"""Chamber run: every run of a chamber's log, and whether an aid was recorded for it."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.exports.chamber_runs import ChamberRuns
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(ChamberRuns, moment="Start of the run.")


class ChamberRun(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per run of a chamber's log that counts.

    Key: site_id, dryer_id, started_at_utc.
    """

    dryer_id: str = column("The chamber; the site's only one where the log names none.")
    run_class: str = column(
        "Whether a record of an aid fits the run, none does, or it cannot be told which do.",
        vocabulary=words.RUN_CLASS, required=True,
    )  # fmt: skip
    aids_recorded: int = column("Records of aids that fit.", unit="aids", ge=0, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "chamber_run"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "started_at_utc"),
            "moment": "started_at_utc",
        }
