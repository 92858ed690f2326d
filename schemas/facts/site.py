"""Site: one clinic of the group."""

import polars as pl

from schemas.declare import Table, column
from schemas.exports.sites import Sites
from schemas.facts.columns import rows_of
from schemas.vocabulary import CLIMATE_GROUP

EXPORTED: type[Table] = rows_of(Sites)


class Site(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per clinic.

    Key: site_id.
    """

    climate: str = column(
        "Köppen-Geiger class of its 30-year monthly normals, or 'climate not given'.",
        required=True, source="Beck et al. 2018, doi:10.1038/sdata.2018.214",
    )  # fmt: skip
    climate_group: str = column("Main group of the class.", required=True, vocabulary=CLIMATE_GROUP)
    has_wet_and_dry_season: bool = column(
        "Seasons are wet and dry: a tropical climate, or within 10 degrees of the equator.",
        required=True,
    )
    last_local_date: pl.Date = column("Day of its last loaded session; null before the first.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "site"
        metadata = {  # noqa: RUF012
            "key": ("site_id",),
        }
