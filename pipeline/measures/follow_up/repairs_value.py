"""What repairs avoided are worth at the group's own costs, net of the drying."""

import numpy as np
import polars as pl

from pipeline.settings import Costs
from pipeline.statistics.intervals import Floats
from schemas.meaning import each_of, some_of
from schemas.measure_words import WARRANTY

IN_WARRANTY = some_of("IN_WARRANTY", WARRANTY, {"in": True, "out": False})


def priced(frame: pl.DataFrame, costs: Costs) -> pl.DataFrame:
    """Add the value at the group's costs; a group of all warranties sums those it consists of."""
    price = _price(frame, costs)
    key = ["grouping", "group_1", "option"]
    frame = frame.with_columns(
        *(
            pl.Series(f"_{name}", np.where(frame["n"].to_numpy() > 0,
                                           frame[name].to_numpy() * price, 0.0))
            for name in ("avoided", "low", "high")
        ),
    )  # fmt: skip
    whole = (
        frame.filter(pl.col("warranty") != "all")
        .group_by(key)
        .agg(
            pl.col("_avoided").sum().alias("_sum"),
            *(
                ((pl.col(f"_{end}") - pl.col("_avoided")) ** 2).sum().sqrt().alias(f"_far_{end}")
                for end in ("low", "high")
            ),
        )
        .with_columns(pl.lit("all").alias("warranty"))
    )
    frame = frame.join(whole, on=[*key, "warranty"], how="left", nulls_equal=True)
    is_all = pl.col("warranty") == "all"
    gross = frame.select(
        pl.when(is_all).then("_sum").otherwise("_avoided").alias("net_value"),
        pl.when(is_all).then(pl.col("_sum") - pl.col("_far_low")).otherwise("_low")
        .alias("net_low"),
        pl.when(is_all).then(pl.col("_sum") + pl.col("_far_high")).otherwise("_high")
        .alias("net_high"),
    )  # fmt: skip
    cost = _cost(frame, costs)
    net = {name: gross[name].cast(pl.Float64).to_numpy() - cost for name in gross.columns}
    known = frame["avoided"].is_not_nan().to_numpy()
    monthly = np.nan if costs.chamber_per_month is None else costs.chamber_per_month
    runs = frame["chamber_runs"].to_numpy()
    with np.errstate(invalid="ignore", divide="ignore"):
        even = {
            name: np.where(net[of] > 0, monthly * runs / net[of], np.nan)
            for name, of in (("break_even_runs_per_month", "net_value"),
                             ("break_even_low", "net_high"), ("break_even_high", "net_low"))
        }  # fmt: skip
    return frame.with_columns(
        pl.Series("cost_of_drying", cost),
        *(
            pl.Series(name, np.where(known, values, np.nan))
            for name, values in (net | even).items()
        ),
        pl.when(pl.col("avoided").is_nan()).then(pl.lit("not_estimable"))
        .otherwise(pl.lit("value")).alias("avoided_state"),
        pl.col("warranty")
        .replace_strict(IN_WARRANTY, default=None, return_dtype=pl.Boolean)
        .alias("in_warranty"),
    )  # fmt: skip


def _price(frame: pl.DataFrame, costs: Costs) -> Floats:
    """Return the price of one repair for each row; the lower one where warranty is not known."""
    inside, outside = _known(costs.repair_in_warranty), _known(costs.repair_out_of_warranty)
    prices = each_of("prices", WARRANTY, {
        "in": inside, "out": outside, "not_known": min(inside, outside), "all": 0.0,
    })  # fmt: skip
    if np.isnan(inside) or np.isnan(outside):
        prices["not_known"] = np.nan
    return np.array([prices[word] for word in frame["warranty"]], dtype=float)


def _cost(frame: pl.DataFrame, costs: Costs) -> Floats:
    """Return what the chamber and staff minutes of each row's sessions cost."""
    minutes = frame["chamber_minutes"].cast(pl.Float64).to_numpy()
    staff = _known(costs.staff_minutes_per_run) * _known(costs.staff_per_minute)
    total = minutes * _known(costs.chamber_per_minute) + frame["chamber_runs"].to_numpy() * staff
    return np.asarray(np.where(frame["aid_sessions"].to_numpy() > 0, total, 0.0), dtype=float)


def _known(cost: float | None) -> float:
    return float("nan") if cost is None else cost
