"""Dose check: a known volume of water in an empty chamber."""

import polars as pl

from schemas.declare import Table, column
from schemas.exports.dose_checks import DoseChecks
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(DoseChecks, moment="Moment of the check.")


class DoseCheck(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per dose check.

    Key: site_id, dryer_id, checked_at_utc, replicate.
    """

    replicate: int = column("Number among checks of one moment.", required=True)
    error_ul: float = column("Reading less dose.", unit="µL", required=True)
    tolerance_ul: float = column(
        "Tolerated error: the larger of the share of the dose and the floor.", unit="µL",
        required=True,
    )  # fmt: skip
    is_within_tolerance: bool = column("The error is tolerated; null for a blank.")
    valid_from: pl.Date = column(
        "Day of the chamber's last service, changed part or move before the check; null if none."
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "dose_check"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "checked_at_utc", "replicate"),
            "moment": "checked_at_utc",
        }
