"""Climate normal: 30-year monthly means at a clinic."""

from schemas.declare import Table, column
from schemas.exports.climate_normals import ClimateNormals
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(ClimateNormals)


class ClimateNormal(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per clinic and month of the year.

    Key: site_id, month.
    """

    is_wet: bool = column("At least a twelfth of the year's rain; null where it is not known.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "climate_normal"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "month"),
        }
