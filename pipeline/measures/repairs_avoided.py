"""What drying saved: repairs not needed, and their value at the group's own costs."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.measures.measure import Measure, as_table, no_rows
from pipeline.settings import Costs, Settings
from pipeline.statistics.bootstrap import percentile_limits, resampled_cells
from pipeline.statistics.intervals import Floats
from pipeline.statistics.survival import binned_incidence, cumulative_incidence
from schemas.measures.repairs_avoided import REPAIR_DAYS, RepairsAvoided

SHARES_SHOWN = (0.0, 0.25, 0.5)
BINS = 10
SLOTS = 2 * BINS + 1  # bins without and with the event, and one for sessions
GROUP = ["grouping", "group_1", "warranty"]


@dataclass(frozen=True)
class Drawn:
    """Resampled wearers; arrays (replicates, groups): repairs not needed, aid sessions."""

    not_needed: Floats
    sessions: Floats


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of rescued episodes into repairs not needed, avoided, and their value.

    Args:
        counts: `repairs_avoided`: episodes by days to a repair, sessions, wearers by pattern.
        settings: the confidence level, the costs and the share recovering anyway.

    Returns:
        The table repairs_avoided.
    """
    given = counts["repairs_avoided"]
    rows = with_groups(given)
    groups = rows.select(GROUP).unique().sort(GROUP).with_row_index("group")
    if groups.is_empty():
        return as_table(no_rows(RepairsAvoided), RepairsAvoided)
    rows = rows.join(groups, on=GROUP, nulls_equal=True)
    frame = groups.join(estimates(rows), on="group", how="left").sort("group")
    draws = drawn(rows, groups.height)
    chosen = settings.share_recovering_anyway
    shares = SHARES_SHOWN if chosen is None else (chosen,)
    parts = [valued(frame, draws, share, settings) for share in shares]
    return as_table(pl.concat(parts, how="vertical_relaxed"), RepairsAvoided)


def with_groups(frame: pl.DataFrame) -> pl.DataFrame:
    """Repeat every row for each grouping, with its own warranty and with 'all'."""
    kinds = {"all": pl.lit(None, pl.String), "site_id": pl.col("site_id"),
             "condition_before": pl.col("condition")}  # fmt: skip
    grouped = pl.concat(
        frame.with_columns(pl.lit(name).alias("grouping"), value.alias("group_1"))
        for name, value in kinds.items()
    )
    return pl.concat([grouped, grouped.with_columns(pl.lit("all").alias("warranty"))])


def estimates(rows: pl.DataFrame) -> pl.DataFrame:
    """Return each group's counts, repairs not needed and sessions."""
    wearers = rows.filter(pl.col("part") == "wearers")
    counted = rows.group_by("group").agg(
        pl.col("n").filter(pl.col("part") == "sessions").sum().alias("aid_sessions"),
        pl.col("runs").sum().alias("chamber_runs"),
        pl.col("minutes").sum().alias("chamber_minutes"),
        (pl.col("minutes").is_not_null().any()).alias("is_timed"),
        pl.col("left_out").sum().alias("left_out_order_not_recorded"),
        (pl.col("n") * pl.col("event")).filter(pl.col("part") == "days").sum().alias("needed"),
        pl.col("n").filter(pl.col("part") == "days").sum(),
    )
    people = (
        wearers.filter(pl.col("what") == "days")
        .unique(["group", "number"])
        .group_by("group")
        .agg(pl.col("wearers").sum())
    )
    found = []
    for (group,), part in rows.filter(pl.col("part") == "days").group_by("group"):
        incidence = cumulative_incidence(part["days"], part["event"], part["n"])
        share, _, _ = incidence.at([REPAIR_DAYS])
        if incidence.followed([REPAIR_DAYS])[0] > 0:
            found.append({"group": group, "kept": 1 - float(share[0])})
    kept = pl.DataFrame(found, schema={"group": pl.UInt32, "kept": pl.Float64})
    return (
        counted.join(people, on="group", how="left")
        .join(kept, on="group", how="left")
        .with_columns(
            pl.col("wearers").fill_null(0),
            (pl.col("n") * pl.col("kept")).alias("not_needed"),
            pl.when("is_timed").then("chamber_minutes").alias("chamber_minutes"),
        )
    )


def drawn(rows: pl.DataFrame, groups: int) -> Drawn:
    """Resample wearers and count repairs not needed and sessions of every group."""
    cells = rows.filter(pl.col("part") == "wearers")
    slot = (
        pl.when(pl.col("what") == "days")
        .then(pl.col("days") + BINS * pl.col("event"))
        .otherwise(2 * BINS)
    )
    cell = cells.select((pl.col("group").cast(pl.Int64) * SLOTS + slot).alias("cell"))["cell"]
    many = cells.unique("number").sort("number")["wearers"].to_numpy()
    counts = resampled_cells(
        cells["number"].to_numpy(), cell.to_numpy(), cells["n"].to_numpy(), many, groups * SLOTS
    ).reshape(-1, groups, SLOTS)
    followed = counts[..., : 2 * BINS].reshape(-1, groups, 2, BINS).swapaxes(-1, -2)
    table = np.concatenate([followed, np.zeros_like(followed[..., :1])], axis=-1)
    share, _ = binned_incidence(table)
    total = followed.sum(axis=(-1, -2))
    return Drawn(total * (1 - share[..., BINS - 2]), counts[..., -1])


def valued(frame: pl.DataFrame, draws: Drawn, share: float, settings: Settings) -> pl.DataFrame:
    """Return the rows of one share recovering anyway, with limits and value."""
    level, left = settings.confidence_level, 1 - share
    low, high = percentile_limits(draws.not_needed, level)
    prices, per_session = _values(frame, settings.costs)
    gross = left * frame["not_needed"].fill_null(0.0).to_numpy() @ prices
    gross_drawn = left * draws.not_needed @ prices
    cost = frame["aid_sessions"].to_numpy() * per_session
    net = gross - cost
    net_low, net_high = percentile_limits(gross_drawn - draws.sessions * per_session, level)
    with np.errstate(invalid="ignore", divide="ignore"):
        monthly = np.nan if settings.costs.chamber_per_month is None else (
            settings.costs.chamber_per_month
        )  # fmt: skip
        per_run = [value / frame["chamber_runs"].to_numpy() for value in (net, net_high, net_low)]
        even = [np.where(value > 0, monthly / value, np.nan) for value in per_run]
    known = frame["not_needed"].is_not_null().to_numpy()
    columns = {
        "low": low, "high": high, "avoided_low": left * low, "avoided_high": left * high,
        "net_value": net, "net_low": net_low, "net_high": net_high,
        "break_even_runs_per_month": even[0], "break_even_low": even[1],
        "break_even_high": even[2],
    }  # fmt: skip
    return frame.with_columns(
        pl.lit(share).alias("share_recovering_anyway"),
        (left * pl.col("not_needed")).alias("avoided"),
        pl.Series("cost_of_drying", cost),
        pl.col("warranty")
        .replace_strict({"in": True, "out": False}, default=None, return_dtype=pl.Boolean)
        .alias("in_warranty"),
        *(pl.Series(name, np.where(known, values, np.nan)) for name, values in columns.items()),
    )


def _values(frame: pl.DataFrame, costs: Costs) -> tuple[Floats, Floats]:
    """Return what a repair of each group is worth to each group, and the cost of an aid session.

    The first array is (groups, groups): a repair's price where the first is part of the second,
    else 0; a group of all warranties is the sum of its warranties, each at its own price. nan
    where a cost has not been entered.
    """
    inside, outside = (_known(costs.repair_in_warranty), _known(costs.repair_out_of_warranty))
    prices = {"in": inside, "out": outside, "not_known": min(inside, outside), "all": 0.0}
    if np.isnan(inside) or np.isnan(outside):
        prices["not_known"] = np.nan
    warranty = frame["warranty"].to_numpy()
    price = np.array([prices[word] for word in warranty])
    # A price that no episode needs may be missing.
    price = np.where(frame["n"].to_numpy() > 0, price, 0.0)
    names = frame.select(pl.struct("grouping", "group_1").rank("dense").alias("name"))["name"]
    name = names.to_numpy()
    is_all = warranty == "all"
    parts = (name[:, None] == name) & ~is_all[:, None] & is_all
    prices_to = np.where(parts | np.diag(~is_all), price[:, None], 0.0)
    minutes = frame["chamber_minutes"].cast(pl.Float64).to_numpy()
    staff = _known(costs.staff_minutes_per_run) * _known(costs.staff_per_minute)
    with np.errstate(invalid="ignore", divide="ignore"):
        sessions = frame["aid_sessions"].to_numpy().astype(float)
        total = (
            minutes * _known(costs.chamber_per_minute) + frame["chamber_runs"].to_numpy() * staff
        )
        per_session = np.where(sessions > 0, total / sessions, 0.0)
    return prices_to, np.asarray(per_session, dtype=float)


def _known(cost: float | None) -> float:
    return float("nan") if cost is None else cost


REPAIRS_AVOIDED = Measure(
    name="repairs_avoided",
    schema=RepairsAvoided,
    queries=("repairs_avoided",),
    infer=infer,
    temporary=("aid_serial",),
)
