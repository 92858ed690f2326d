"""Dose checks: a known volume of water in an empty chamber."""

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column


class DoseChecks(Table):
    """One row per dose check.

    Key: site_id, dryer_id, checked_at, replicate.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    dryer_id: str = column("The chamber checked.", required=True)
    checked_at: INSTANT = column("Moment of the check.", required=True)
    replicate: int = column("Number among checks of one moment.", ge=1, le=1000)
    dose_ul: float = column(
        "Water put in; 0 is a blank.", unit="µL", resolution=0.01, ge=0, le=2000, required=True
    )
    reading_ul: float = column(
        "What the chamber read.", unit="µL", resolution=0.01, ge=0, le=2000, required=True
    )
    dose_method: str = column("How the dose was measured.", vocabulary=words.DOSE_METHOD)
    dose_uncertainty_pct: float = column(
        "Standard uncertainty of the dose.", unit="% of the dose", resolution=0.01, ge=0, le=50
    )
    ambient_temp_c: float = column("Room temperature.", unit="°C", resolution=0.1, ge=-20, le=60)
    ambient_rh_pct: float = column(
        "Relative humidity of the room.", unit="%", resolution=0.1, ge=0, le=100
    )
    barometer_kpa: float = column("Air pressure.", unit="kPa", resolution=0.01, ge=40, le=110)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dose_checks"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "checked_at", "replicate"),
            "moment": "checked_at",
        }
