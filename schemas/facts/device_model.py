"""Device model: what the maker specifies."""

from schemas.declare import Table, column


class DeviceModel(Table):
    """One row per model and receiver variant.

    Key: model_code, receiver_code.
    """

    model_code: str = column("Model.", required=True)
    receiver_code: str = column("Receiver variant; null where there is one.")
    hfa_ospl90_spec_db_spl: float = column("Specified HFA OSPL90.", unit="dB SPL")
    hfa_gain_spec_db: float = column("Specified HFA gain.", unit="dB")
    ein_max_db_spl: float = column("Highest specified equivalent input noise.", unit="dB SPL")
    thd_max_pct: float = column("Highest specified total harmonic distortion.", unit="%")
    vacuum_allowed: bool = column("The maker allows drying under vacuum.")
    drying_temp_max_c: float = column("Highest temperature the maker allows.", unit="°C")
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "device_model"
        metadata = {  # noqa: RUF012
            "key": ("model_code", "receiver_code"),
        }
