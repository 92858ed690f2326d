"""Dryer: one drying chamber."""

from schemas.declare import Table, column
from schemas.exports.dryers import Dryers
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(Dryers)


class Dryer(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per drying chamber.

    Key: site_id, dryer_id.
    """

    dose_tolerance_pct: float = column(
        "Tolerated error of a dose check; 10 where not given.", unit="% of the dose", ge=0
    )
    dose_tolerance_floor_ul: float = column(
        "Least tolerated error of a dose check; 0.2 where not given.", unit="µL", ge=0
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id"),
        }
