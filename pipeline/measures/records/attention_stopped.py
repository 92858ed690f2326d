"""Dried aids that stopped working, in the list of what needs attention: where is it harm?"""

import numpy as np
import polars as pl

from pipeline.settings import Settings
from pipeline.statistics.intervals import wilson
from pipeline.statistics.mover import Limits, difference

KIND = "stopped_aid"
FEWEST_CLEANED = 200
FEWEST_STOPPED = 3


def told(items: pl.DataFrame, cleaned: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Name each site where it is harm, and put the aids of the other sites into one item.

    Some aids stop whatever is done. Harm is told where three or more stopped, their share clearly
    above that among aids only cleaned (lower limit of the difference above 0 at `net_confidence`)
    and by more than `acceptable_excess_stopped`. Set against are the site's own cleaned-only aids
    where 200 or more are known, else the group's; where the group has no 200, a share clearly
    above `acceptable_excess_stopped` is harm. The others' item is harm by the same rule, set
    against what these sites were set against.

    Args:
        items: item_kind, site_id, word, count, out_of: for stopped aids one row a site, and one
            of the group, without a site.
        cleaned: site_id, cleaned, stopped.
        settings: the level and the acceptable excess.

    Returns:
        The items, those of stopped aids with their word, and without those that tell nothing.
    """
    rest = items.filter(pl.col("item_kind") != KIND)
    own = items.filter(pl.col("item_kind") == KIND)
    group = cleaned.select(pl.col("cleaned", "stopped").sum())
    sites = _worded(
        own.filter(pl.col("site_id").is_not_null())
        .join(cleaned.filter(pl.col("cleaned") >= FEWEST_CLEANED), on="site_id", how="left")
        .with_columns(
            pl.coalesce(pl.col(name), pl.lit(group[name].item())).cast(pl.Float64).alias(name)
            for name in ("cleaned", "stopped")
        ),
        settings,
    )
    told_ = pl.concat([
        sites.filter(pl.col("is_harm")),
        _worded(_others(sites, own.filter(pl.col("site_id").is_null()), group), settings),
    ]).filter(pl.col("count") > 0)  # fmt: skip
    return pl.concat([rest, told_.select(items.columns)]).sort("item_id")


def _others(sites: pl.DataFrame, row: pl.DataFrame, group: pl.DataFrame) -> pl.DataFrame:
    """Fill the group's row from the sites that are not named."""
    others = sites.filter(~pl.col("is_harm"))
    dried, cleaned = int(others["out_of"].sum()), float(group["cleaned"].item())
    share = 0.0
    if dried and cleaned:
        expected = others["out_of"] * others["stopped"] / others["cleaned"]
        share = float(expected.sum()) / dried
    return row.with_columns(
        pl.lit(int(others["count"].sum()), pl.Int64).alias("count"),
        pl.lit(dried, pl.Int64).alias("out_of"),
        pl.lit(cleaned).alias("cleaned"),
        pl.lit(share * cleaned).alias("stopped"),
    )


def _worded(rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Tell by row whether it is harm, and the word; columns count, out_of, cleaned, stopped."""
    count, n = rows["count"].to_numpy(), rows["cleaned"].to_numpy()
    is_known = n >= FEWEST_CLEANED
    after_drying = _limits(count, rows["out_of"].to_numpy(), settings)
    excess = difference(after_drying, _limits(rows["stopped"].to_numpy(), n, settings))
    accepted = settings.acceptable_excess_stopped
    is_beyond = np.where(
        is_known, (excess.low > 0) & (excess.value > accepted), after_drying.low > accepted
    ) & (count >= FEWEST_STOPPED)
    words = np.where(
        is_known,
        np.where(is_beyond, "more_than_cleaned", "as_cleaned"),
        np.where(is_beyond, "more_than_accepted", "none_cleaned"),
    )
    return rows.with_columns(
        pl.Series("word", words.astype(str), pl.String),
        pl.Series("is_harm", is_beyond, pl.Boolean),
    )


def _limits(count: np.ndarray, n: np.ndarray, settings: Settings) -> Limits:
    size = np.maximum(n, 1).astype(float)
    low, high = wilson(count, size, settings.net_confidence)
    return Limits(count / size, low, high)
