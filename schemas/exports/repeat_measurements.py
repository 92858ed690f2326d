"""Repeat measurements: one aid measured twice, re-seated, nothing done between."""

from schemas.declare import INSTANT, Table, column
from schemas.exports.sessions import RANGE_EIN, RANGE_GAIN, RANGE_OSPL90, RANGE_THD


class RepeatMeasurements(Table):
    """One row per pair of measurements of one aid.

    Key: site_id, device_id, measured_at, test_box_id, replicate.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    device_id: str = column("The aid.", hashed="device")
    measured_at: INSTANT = column("Moment of the first measurement.", required=True)
    test_box_id: str = column("Coupler test box; hashed unless reference/test_boxes lists it.")
    replicate: int = column("Number among pairs of one moment.", ge=1, le=1000)
    first_hfa_ospl90_db_spl: float = column(
        "First high-frequency average OSPL90 (1000, 1600, 2500 Hz).", **RANGE_OSPL90
    )
    first_hfa_gain_db: float = column("First high-frequency average gain.", **RANGE_GAIN)
    first_ein_db_spl: float = column("First equivalent input noise.", **RANGE_EIN)
    first_thd_pct: float = column("First total harmonic distortion.", **RANGE_THD)
    second_hfa_ospl90_db_spl: float = column(
        "Second high-frequency average OSPL90 (1000, 1600, 2500 Hz).", **RANGE_OSPL90
    )
    second_hfa_gain_db: float = column("Second high-frequency average gain.", **RANGE_GAIN)
    second_ein_db_spl: float = column("Second equivalent input noise.", **RANGE_EIN)
    second_thd_pct: float = column("Second total harmonic distortion.", **RANGE_THD)

    class Config(Table.Config):
        """The table's name and key."""

        name = "repeat_measurements"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "measured_at", "test_box_id", "replicate"),
            "moment": "measured_at",
        }
