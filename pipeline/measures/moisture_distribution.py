"""How much water the chambers read, with readings below detection as left-censored."""

import polars as pl

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.clusters import ClusterSums, icc_pooled
from pipeline.statistics.intervals import wilson
from schemas.measures.moisture_distribution import MoistureDistribution

# In the order of the bits of grouping_id, highest first.
COLUMNS = (
    "season", "climate_group", "device_style", "exposure", "visit_reason", "cycle_programme",
    "days_since_dry_band", "site_id",
)  # fmt: skip
GROUPINGS = (
    "all", "season", "climate_group", "device_style", "season+climate_group",
    "device_style+climate_group", "season+climate_group+device_style", "exposure", "visit_reason",
    "cycle_programme", "days_since_dry_band", "site_id",
)  # fmt: skip
QUANTILES = {"p10_ul": 0.1, "p25_ul": 0.25, "median_ul": 0.5, "p75_ul": 0.75, "p90_ul": 0.9}
MOST_BELOW = 0.8
FEWEST_WEARERS = 10
GROUP = ["basis", "aids", "grouping_id", *COLUMNS]


def grouping_code(grouping: str) -> int:
    """Return SQL's grouping_id of a grouping: one bit a column, 0 where grouped by."""
    by = grouping.split("+")
    return sum(0 if name in by else 1 << at for at, name in enumerate(reversed(COLUMNS)))


def cumulative(table: pl.DataFrame, group: list[str]) -> pl.DataFrame:
    """Return the reverse Kaplan-Meier estimate of each group's distribution.

    Args:
        table: value, below (the value is a limit that the reading is under or at), loads, and the
            columns of `group`.
        group: columns that name a group.

    Returns:
        One row per group and detected value: value, share_up_to (estimated share of loads up to
        and with it), share_under (share below it). A limit equal to a detected value counts as
        not above it.

    Source: Helsel 2012, Statistics for Censored Environmental Data, Kaplan-Meier for left-censored
    data by reversal.
    """
    detected = pl.col("loads").filter(~pl.col("below")).sum().alias("detected")
    values = (
        table.group_by(*group, "value")
        .agg(detected, pl.col("loads").sum())
        .sort(*group, "value", nulls_last=True)
    )
    number = values.select(pl.struct(group).rank("dense").alias("number")).to_series()
    return (
        values.with_columns(number)
        .with_columns(pl.col("loads").cum_sum().over("number").alias("at_most"))
        .with_columns((1 - pl.col("detected") / pl.col("at_most")).alias("factor"))
        .with_columns(pl.col("factor").cum_prod(reverse=True).over("number").alias("share_under"))
        .with_columns(
            pl.col("share_under").shift(-1).over("number").fill_null(1.0).alias("share_up_to")
        )
        .filter(pl.col("detected") > 0)
        .select(*group, "value", "share_up_to", "share_under")
    )


def quantile(share: pl.Expr) -> pl.Expr:
    """Aggregate rows of `cumulative` to the least value with at least this share up to it.

    Null where the share lies among the readings below detection.
    """
    slack = 1e-9
    reached = pl.col("value").filter(pl.col("share_up_to") >= share - slack).min()
    return pl.when(pl.col("share_under").min() < share - slack).then(reached)


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of readings into quantiles and limits of the median.

    The limits are the quantiles at Wilson's limits of one half on the effective number of loads,
    n/D with D = 1 + icc·(Σn_i²/n - 1) by wearer. The correlation is that of "at or under the
    middle reading" over all loads of the basis and number of aids; unknown, it counts as 1.

    Args:
        counts: `moisture_distribution` (loads by group, value and below) and `moisture_wearers`
            (sums over wearers by group).
        settings: the confidence level.

    Returns:
        The table moisture_distribution.
    """
    table = _together(counts["moisture_distribution"])
    loads = pl.col("loads")

    def left(fate: str) -> pl.Expr:
        return loads.filter(pl.col("fate") == fate).sum()

    groups = table.group_by(GROUP).agg(
        left("used").alias("n"),
        loads.filter(pl.col("below").fill_null(value=False)).sum().alias("below_detection"),
        pl.col("lowest_limit").filter(pl.col("fate") == "used").min().alias("lowest_limit_ul"),
        left("uncalibrated").alias("left_out_uncalibrated"),
        left("incomplete").alias("left_out_incomplete"),
        left("no limit").alias("left_out_no_limit"),
    )
    wearers = _middle(counts["moisture_wearers"], settings.confidence_level)
    placed = groups.select(GROUP).with_row_index("place")
    halves = placed.join(wearers, on=GROUP, how="left", nulls_equal=True)
    used = table.filter(pl.col("fate") == "used").join(placed, on=GROUP, nulls_equal=True)
    shares = cumulative(used.select("place", "value", "below", "loads"), ["place"]).join(
        halves.select("place", "half_low", "half_high"), on="place", how="left"
    )
    found = shares.group_by("place").agg(
        *(quantile(pl.lit(share)).alias(name) for name, share in QUANTILES.items()),
        quantile(pl.col("half_low").first()).alias("median_low_ul"),
        quantile(pl.col("half_high").first()).alias("median_high_ul"),
    )
    names = [*QUANTILES, "median_low_ul", "median_high_ul"]
    enough = (pl.col("n") > 0) & (pl.col("below_detection") <= MOST_BELOW * pl.col("n"))
    frame = (
        groups.with_row_index("place")
        .join(found, on="place", how="left")
        .join(wearers.select(*GROUP, "wearers"), on=GROUP, how="left", nulls_equal=True)
        .with_columns(
            pl.col("wearers").fill_null(0),
            pl.when(pl.col("n") > 0)
            .then(pl.col("below_detection") / pl.col("n"))
            .alias("share_below_detection"),
            *(
                pl.when(enough & (pl.col(name) >= pl.col("lowest_limit_ul").fill_null(0)))
                .then(pl.col(name))
                .alias(name)
                for name in names
            ),
            pl.when(pl.col("aids") > 0).then(pl.col("aids")).alias("aids_in_chamber"),
            pl.col("grouping_id")
            .replace_strict({grouping_code(g): g for g in GROUPINGS}, return_dtype=pl.String)
            .alias("grouping"),
        )
        .with_columns(_group(place) for place in range(3))
    )
    return as_table(frame, MoistureDistribution)


def _together(table: pl.DataFrame) -> pl.DataFrame:
    """Add the rows of loads of one and of two together, as aids 0."""
    key = [*GROUP, "fate", "value", "below"]
    both = (
        table.with_columns(pl.lit(0, table.schema["aids"]).alias("aids"))
        .group_by(key)
        .agg(pl.col("loads").sum(), pl.col("lowest_limit").min())
    )
    return pl.concat([table, both.select(table.columns)]).sort(key, nulls_last=True)


def _middle(wearers: pl.DataFrame, level: float) -> pl.DataFrame:
    """Add the limits of one half; null under ten wearers, where no median has limits."""
    whole = wearers.filter(pl.col("grouping_id") == grouping_code("all"))
    pool = whole.select(pl.concat_str("basis", "aids")).to_series().to_numpy()
    known = whole.select("basis", "aids").with_columns(
        pl.Series("icc", icc_pooled(_sums(whole), pool), dtype=pl.Float64).fill_nan(1.0)
    )
    groups = wearers.join(known, on=["basis", "aids"], how="left", maintain_order="left")
    n = pl.col("n")
    effect = 1 + pl.col("icc") * (pl.col("nn") / n - 1)
    effective = groups.select((n / effect).alias("effective")).to_series().to_numpy()
    low, high = wilson(effective / 2, effective, level)
    limits = {"half_low": low, "half_high": high}
    return groups.select(
        *GROUP,
        pl.col("m").alias("wearers"),
        *(
            pl.when(pl.col("m") >= FEWEST_WEARERS)
            .then(pl.Series(name, values, dtype=pl.Float64).fill_nan(None))
            .alias(name)
            for name, values in limits.items()
        ),
    )


def _sums(frame: pl.DataFrame) -> ClusterSums:
    names = ("n", "k", "m", "nn", "yy", "yn", "yyn")
    n, k, m, nn, yy, ny, yyn = (frame[name].cast(pl.Float64).to_numpy() for name in names)
    return ClusterSums(n, k, m, nn, yy, ny, yyn)


def _group(place: int) -> pl.Expr:
    chosen = pl.lit(None, pl.String)
    for grouping in GROUPINGS:
        by = grouping.split("+")
        if grouping != "all" and place < len(by):
            chosen = pl.when(pl.col("grouping") == grouping).then(by[place]).otherwise(chosen)
    return chosen.alias(f"group_{place + 1}")


MOISTURE_DISTRIBUTION = Measure(
    name="moisture_distribution",
    schema=MoistureDistribution,
    queries=("moisture_distribution", "moisture_wearers"),
    infer=infer,
)
