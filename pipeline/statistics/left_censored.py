"""Readings of which some are only known to lie below a limit: curves, bounds and states."""

from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from pipeline.statistics.intervals import Floats

FEWEST_WEARERS = 10
MOST_BELOW = 0.8
WIDEST = 2.0
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


def shares_at(curve: pl.DataFrame, values: ArrayLike, *, is_value_in: bool = True) -> Floats:
    """Return the estimated share of one group up to each value, or under it.

    Args:
        curve: one group's rows of `cumulative`; none where no load was detected.
        values: any values, any length.
        is_value_in: loads of the value itself count.

    Returns:
        0 to 1; 1 everywhere without a detected load, for all lie under some limit.
    """
    steps = curve.sort("value")
    least = steps["share_under"].to_numpy()[:1] if steps.height else [1.0]
    place = np.searchsorted(
        steps["value"].to_numpy(), np.asarray(values), side="right" if is_value_in else "left"
    )
    return np.asarray(np.r_[least, steps["share_up_to"].to_numpy()][place], dtype=float)


def quantile(share: pl.Expr) -> pl.Expr:
    """Aggregate rows of a curve to the least value with at least this share up to it.

    Null where the share lies among the readings below detection.
    """
    reached = pl.col("value").filter(pl.col("share_up_to") >= share - SLACK).min()
    return pl.when(pl.col("share_under").min() < share - SLACK).then(reached)


def mixed(used: pl.DataFrame) -> pl.DataFrame:
    """Return each place's curve as the mean of its strata's curves, by loads.

    Strata are sites: chambers of one site see the same wearers, so that what one cannot read the
    others tell; those of another site, where aids are wetter and limits higher, would not. A
    reading over every limit needs no stratum. What a stratum leaves below its lowest detected
    reading counts as at or under every reading.

    Args:
        used: place, stratum (null over every limit), value, below, loads.

    Returns:
        As `cumulative` by place; its variance holds that the strata's loads were drawn too, and
        is the binomial one where nothing lies below a limit.
    """
    key = ["place", "stratum"]
    n = used.group_by("place").agg(pl.col("loads").sum().alias("n"))
    low = used.drop_nulls("stratum")
    curves = cumulative(low, key).sort(*key, "value")
    weights = (
        low.group_by(key)
        .agg(pl.col("loads").sum())
        .join(n, on="place")
        .join(curves.group_by(key).agg(pl.col("share_under").min().alias("least")), on=key,
              how="left")
        # A stratum without a detected reading lies at or under its limit whole.
        .select(*key, (pl.col("loads") / pl.col("n")).alias("weight"), pl.col("least").fill_null(1))
    )  # fmt: skip
    weight, up_to, under = pl.col("weight"), pl.col("share_up_to"), pl.col("share_under")
    earlier = pl.col("variance").shift(1).over(key).fill_null(0.0)
    steps = [
        curves.join(weights, on=key, maintain_order="left").select(
            "place", "value", (weight * (up_to - under)).alias("jump"),
            (weight * (up_to**2 - under**2)).alias("square"),
            (weight**2 * (pl.col("variance") - earlier)).alias("variance"),
        ),
        used.filter(pl.col("stratum").is_null()).join(n, on="place").select(
            "place", "value", (pl.col("loads") / pl.col("n")).alias("jump"),
            (pl.col("loads") / pl.col("n")).alias("square"), pl.lit(0.0).alias("variance"),
        ),
    ]  # fmt: skip
    base = weights.group_by("place").agg(
        (weight * pl.col("least")).sum().alias("base"),
        (weight * pl.col("least") ** 2).sum().alias("base_square"),
    )
    share = pl.col("jump").cum_sum().over("place") + pl.col("base").fill_null(0.0)
    square = pl.col("square").cum_sum().over("place") + pl.col("base_square").fill_null(0.0)
    return (
        pl.concat(steps)
        .group_by("place", "value")
        .agg(pl.col("jump", "square", "variance").sum())
        .sort("place", "value")
        .join(base, on="place", how="left", maintain_order="left")
        .join(n, on="place", how="left", maintain_order="left")
        .with_columns(share.alias("share_up_to"), square.alias("square"))
        .select(
            "place", "value", "share_up_to",
            (pl.col("share_up_to") - pl.col("jump")).alias("share_under"),
            (
                pl.col("variance").cum_sum().over("place")
                + ((pl.col("square") - pl.col("share_up_to") ** 2) / pl.col("n")).clip(0.0)
            ).alias("variance"),
        )
    )  # fmt: skip


def bounds(
    used: pl.DataFrame, key: list[str], shares: Mapping[str, float | pl.Expr]
) -> pl.DataFrame:
    """Return the quantiles with every load below its limit at 0, and with each at its limit.

    The quantile of what was in the aids lies between the two whatever the loads below a limit
    held, at whatever chamber.

    Args:
        used: the columns of `key`, value, below (the value is a limit), loads.
        key: columns that name a group.
        shares: name and share in (0, 1) of each quantile; an expression gives one a group.

    Returns:
        The key, and {name}_low and {name}_high in the unit of the values.

    Source: Manski 2003, Partial Identification of Probability Distributions, the bounds of a
    quantile (from memory).
    """
    loads, below = pl.col("loads"), pl.col("below").fill_null(value=False)
    detected = pl.when(below).then(0).otherwise(loads)
    ordered = (
        used.sort(*key, "value", nulls_last=True)
        .with_columns(
            loads.cum_sum().over(key).alias("upto_high"),
            detected.cum_sum().over(key).alias("upto_low"),
            loads.sum().over(key).alias("total"),
        )
        .with_columns((pl.col("total") - detected.sum().over(key)).alias("under"))
        .with_columns(
            (pl.col("upto_high") / pl.col("total")).alias("upto_high"),
            ((pl.col("upto_low") + pl.col("under")) / pl.col("total")).alias("upto_low"),
            (pl.col("under") / pl.col("total")).alias("under"),
        )
    )

    def ends(name: str, share: float | pl.Expr) -> tuple[pl.Expr, pl.Expr]:
        reached, value = share - SLACK, pl.col("value").cast(pl.Float64)
        least = value.filter(~below & (pl.col("upto_low") >= reached)).min()
        return (
            pl.when(pl.col("under").first() >= reached).then(0.0).otherwise(least)
            .alias(f"{name}_low"),
            value.filter(pl.col("upto_high") >= reached).min().alias(f"{name}_high"),
        )  # fmt: skip

    asked = [end for name, share in shares.items() for end in ends(name, share)]
    return ordered.group_by(key, maintain_order=True).agg(asked)


def state(low: pl.Expr, high: pl.Expr, n: pl.Expr, below: pl.Expr, wearers: pl.Expr) -> pl.Expr:
    """Return the state of a quantile, a word of `STATES`.

    A value where the bounds hold it within a factor of two; below the limit where more loads lie
    below one than the quantile's share; otherwise not estimable, as under 10 wearers and, whatever
    the bounds, where more than four fifths of the loads lie below a limit.

    Args:
        low, high: the bounds of the quantile.
        n, below, wearers: loads, those below a limit, wearers.
    """
    return (
        pl.when(n.fill_null(0) == 0).then(pl.lit("not_recorded"))
        .when(wearers < FEWEST_WEARERS).then(pl.lit("not_estimable"))
        .when(low <= 0).then(pl.lit("below_limit"))
        .when((below <= MOST_BELOW * n) & (high <= WIDEST * low)).then(pl.lit("value"))
        .otherwise(pl.lit("not_estimable"))
    )  # fmt: skip
