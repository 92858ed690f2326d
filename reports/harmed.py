"""Sites where working aids stop or get worse after drying more often than they should."""

import polars as pl

from reports import rates
from reports.figure import Frames

HARM = "harm"


def harmed_sites(frames: Frames) -> list[str]:
    """Return the ids of the sites named under possible harm, those counted most first."""
    items = rates.table(frames, "attention_item")
    if items.is_empty():
        return []
    own = items.filter((pl.col("severity") == HARM) & pl.col("site_id").is_not_null())
    most = own.group_by("site_id").agg(pl.col("count").max())
    return most.sort("count", "site_id", descending=[True, False], nulls_last=True)[
        "site_id"
    ].to_list()


def harmed_names(frames: Frames) -> list[str]:
    """Return the printed names of these sites."""
    names = rates.site_names(frames)
    return [names.get(site, site) for site in harmed_sites(frames)]
