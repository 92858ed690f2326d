"""What a build wrote anew in a copy of the published warehouse."""

from dataclasses import dataclass, field

import polars as pl

WEARERS = {"site_id": pl.String, "wearer_key": pl.String}


@dataclass(frozen=True)
class Touched:
    """What a build wrote anew in a copy of the published warehouse.

    Attributes:
        sites: every row of these.
        wearers: site_id, wearer_key: of other sites, all rows of these; closed under shared
            sessions and devices, as these were and as they are. Tables without wearers were
            written anew for every changed site.
    """

    sites: frozenset[str]
    wearers: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=WEARERS))
