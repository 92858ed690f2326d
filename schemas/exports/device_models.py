"""Device models: specifications the makers state."""

from schemas.declare import Table, column
from schemas.exports.sessions import RANGE_EIN, RANGE_GAIN, RANGE_OSPL90, RANGE_THD


class DeviceModels(Table):
    """One row per model and receiver variant.

    Key: model_code, receiver_code.
    """

    model_code: str = column("Model.", required=True)
    receiver_code: str = column("Receiver variant.")
    hfa_ospl90_spec_db_spl: float = column("Specified HFA OSPL90.", **RANGE_OSPL90)
    hfa_gain_spec_db: float = column("Specified HFA full-on gain.", **RANGE_GAIN)
    ein_max_db_spl: float = column("Specified largest equivalent input noise.", **RANGE_EIN)
    thd_max_pct: float = column("Specified largest total harmonic distortion.", **RANGE_THD)
    vacuum_allowed: bool = column("Whether the maker allows vacuum.")
    drying_temp_max_c: float = column(
        "Highest temperature the maker allows.", unit="°C", resolution=0.1, ge=0, le=120
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "device_models"
        metadata = {  # noqa: RUF012
            "key": ("model_code", "receiver_code"),
        }
