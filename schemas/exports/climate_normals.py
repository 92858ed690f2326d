"""Climate normals: thirty-year monthly means at each clinic."""

from schemas.declare import Table, column


class ClimateNormals(Table):
    """One row per clinic and month of the year.

    Key: site_id, month.
    """

    site_id: str = column("The clinic.", required=True)
    month: int = column("Month of the year, 1 to 12.", ge=1, le=12, required=True)
    mean_temp_c: float = column(
        "Mean temperature.", unit="°C", resolution=0.1, ge=-60, le=50, required=True
    )
    precipitation_mm: float = column(
        "Mean precipitation.", unit="mm", resolution=0.1, ge=0, le=3000
    )
    mean_dew_point_c: float = column("Mean dew point.", unit="°C", resolution=0.1, ge=-70, le=40)

    class Config(Table.Config):
        """The table's name and key."""

        name = "climate_normals"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month"),
        }
