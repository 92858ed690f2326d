"""Climate normal: 30-year monthly means at a clinic."""

from schemas.declare import Table, column


class ClimateNormal(Table):
    """One row per clinic and month of the year.

    Key: site_id, month.
    """

    site_id: str = column("The clinic.", required=True)
    month: int = column("Month of the year, 1 to 12.", ge=1, le=12, required=True)
    mean_temp_c: float = column("Mean temperature.", unit="°C")
    precipitation_mm: float = column("Precipitation.", unit="mm", ge=0)
    mean_dew_point_c: float = column("Mean dew point.", unit="°C")
    is_wet: bool = column("At least a twelfth of the year's rain; null where it is not known.")
    file_id: str = column("The file version the row was read from.", required=True)
    line: int = column("Physical line where the record starts.", required=True)
    part_of_line: int = column("Which of the rows made of one line, from 1.", ge=1, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "climate_normal"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month"),
        }
