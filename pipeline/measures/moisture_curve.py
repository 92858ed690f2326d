"""Curves of readings of which some are only known to lie below a limit: Kaplan-Meier reversed."""

import polars as pl
from scipy.stats import chi2

FEWEST_LOADS = 10
FEWEST_EXPECTED = 5
TRACKS_BELOW_P = 0.05
MOST_UNKNOWN = 0.01
SLACK = 1e-9


def cumulative(table: pl.DataFrame, group: list[str]) -> pl.DataFrame:
    """Return the reverse Kaplan-Meier estimate of each group's distribution.

    Args:
        table: value, below (the value is a limit that the reading is under or at), loads, and the
            columns of `group`.
        group: columns that name a group.

    Returns:
        One row per group and detected value: value, share_up_to (estimated share of loads up to
        and with it), share_under (share below it), variance (Greenwood's, of share_up_to, as if
        loads were independent). A limit equal to a detected value counts as not above it.

    Source: Helsel 2012, Statistics for Censored Environmental Data, Kaplan-Meier for left-censored
    data by reversal.
    """
    detected = pl.col("loads").filter(~pl.col("below")).sum().alias("detected")
    values = (
        table.group_by(*group, "value")
        .agg(detected, pl.col("loads").sum())
        .sort(*group, "value", nulls_last=True)
    )
    number = values.select(pl.struct(group).rle_id().alias("number")).to_series()
    rest = pl.col("at_most") - pl.col("detected")

    def above(running: pl.Expr, at_top: float) -> pl.Expr:
        return running.shift(-1).over("number").fill_null(at_top)

    return (
        values.with_columns(number)
        .with_columns(pl.col("loads").cum_sum().over("number").alias("at_most"))
        .with_columns(
            (rest / pl.col("at_most")).alias("factor"),
            (pl.col("detected") / (pl.col("at_most") * rest)).alias("term"),
        )
        .with_columns(
            pl.col("factor").cum_prod(reverse=True).over("number").alias("share_under"),
            pl.col("term").fill_nan(0).cum_sum(reverse=True).over("number").alias("terms"),
        )
        .with_columns(above(pl.col("share_under"), 1.0).alias("share_up_to"))
        .with_columns((pl.col("share_up_to") ** 2 * above(pl.col("terms"), 0.0)).alias("variance"))
        .filter(pl.col("detected") > 0)
        .select(*group, "value", "share_up_to", "share_under", "variance")
    )


def quantile(share: pl.Expr) -> pl.Expr:
    """Aggregate rows of a curve to the least value with at least this share up to it.

    Null where the share lies among the readings below detection.
    """
    reached = pl.col("value").filter(pl.col("share_up_to") >= share - SLACK).min()
    return pl.when(pl.col("share_under").min() < share - SLACK).then(reached)


def limits_track_level(used: pl.DataFrame, effect: pl.DataFrame) -> pl.DataFrame:
    """Return the places where chambers with other limits also read another level.

    One curve for loads of several limits takes the limit to say nothing of the reading. At the
    highest limit met below detection the share at or under it is known in every class of limits;
    where the classes differ there by a chi-square test on effective numbers, it does say something.

    Args:
        used: place, limit_class, value, below, loads.
        effect: place and design effect, 1 or more.

    Returns:
        place, of those that differ at the 5 % level.
    """
    top = used.filter("below").group_by("place").agg(pl.col("value").max().alias("top"))
    n, at_most = pl.col("n"), pl.col("at_most")
    classes = (
        used.join(top, on="place")
        .group_by("place", "limit_class")
        .agg(
            pl.col("loads").sum().alias("n"),
            pl.col("loads").filter(pl.col("value") <= pl.col("top")).sum().alias("at_most"),
        )
        .filter(n >= FEWEST_LOADS)
        .with_columns((at_most.sum() / n.sum()).over("place").alias("share"))
    )
    rarer = pl.min_horizontal("share", 1 - pl.col("share"))
    tested = (
        classes.filter(n * rarer >= FEWEST_EXPECTED)
        .with_columns((at_most.sum() / n.sum()).over("place").alias("share"))
        .with_columns(
            (
                (at_most - n * pl.col("share")) ** 2 / (n * pl.col("share") * (1 - pl.col("share")))
            ).alias("square")
        )
        .group_by("place")
        .agg(pl.col("square").sum(), (pl.len() - 1).alias("freedom"))
        .filter(pl.col("freedom") > 0)
        .join(effect, on="place")
    )
    p_value = chi2.sf(
        tested.select(pl.col("square") / pl.col("effect")).to_series().to_numpy(),
        tested["freedom"].to_numpy(),
    )
    return tested.filter(pl.Series(p_value < TRACKS_BELOW_P, dtype=pl.Boolean)).select("place")


def within_classes(used: pl.DataFrame) -> pl.DataFrame:
    """Return each place's curve as the mean of the curves of its classes of limits, by loads.

    Args:
        used: place, limit_class, value, below, loads.

    Returns:
        As `cumulative` by place, and floor: the lowest value from which on the loads whose class
        does not know its share there are at most a hundredth of the place's loads. They are below
        detection and count as at or under the value.
    """
    key = ["place", "limit_class"]
    loads, least = pl.col("loads").sum(), pl.col("share_under").min()
    curves = cumulative(used, key)
    classes = (
        used.group_by(key)
        .agg(loads, pl.col("value").filter("below").max().alias("limit"))
        .join(curves.group_by(key).agg(least.alias("least")), on=key, how="left", nulls_equal=True)
        .select(
            *key,
            "limit",
            (pl.col("loads") / pl.col("loads").sum().over("place")).alias("weight"),
            # A class without a detected reading lies at or under its limit whole.
            pl.col("least").fill_null(1.0),
        )
    )
    weight, hidden = pl.col("weight"), pl.col("weight") * pl.col("least")
    ordered = curves.sort(*key, "value").join(
        classes, on=key, nulls_equal=True, maintain_order="left"
    )
    earlier = pl.col("variance").shift(1).over(key).fill_null(0.0)
    steps = pl.concat(
        [
            ordered.select(
                "place", "value",
                (weight * (pl.col("share_up_to") - pl.col("share_under"))).alias("jump"),
                (weight**2 * (pl.col("variance") - earlier)).alias("variance"),
                pl.lit(0.0).alias("known"), pl.lit(value=True).alias("is_detected"),
            ),
            classes.drop_nulls("limit").select(
                "place", pl.col("limit").cast(ordered.schema["value"]).alias("value"),
                pl.lit(0.0).alias("jump"), pl.lit(0.0).alias("variance"),
                hidden.alias("known"), pl.lit(value=False).alias("is_detected"),
            ),
        ]
    )  # fmt: skip
    base = classes.group_by("place").agg(
        hidden.sum().alias("base"), hidden.filter(pl.col("limit").is_not_null()).sum().alias("all")
    )
    share = pl.col("jump").cum_sum().over("place") + pl.col("base")
    unknown = pl.col("all") - pl.col("known").cum_sum().over("place")
    return (
        steps.group_by("place", "value")
        .agg(
            pl.col("jump", "variance", "known").sum(),
            pl.col("is_detected").any(),
        )
        .sort("place", "value")
        .join(base, on="place", maintain_order="left")
        .with_columns(
            share.alias("share_up_to"),
            (share - pl.col("jump")).alias("share_under"),
            pl.col("variance").cum_sum().over("place"),
            unknown.alias("unknown"),
        )
        .filter("is_detected")
        .with_columns(
            pl.col("value")
            .filter(pl.col("unknown") <= MOST_UNKNOWN + SLACK)
            .min()
            .over("place")
            .alias("floor")
        )
        .select("place", "value", "share_up_to", "share_under", "variance", "floor")
    )
