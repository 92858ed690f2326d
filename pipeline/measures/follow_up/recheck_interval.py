"""How much water an aid gains between dryings, and when a tenth of aids is over a level."""

import numpy as np
import polars as pl

from pipeline.disclosure import follow_up
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.current_status import UNKNOWN, Crossing, days_until
from pipeline.statistics.intervals import wilson
from pipeline.statistics.left_censored import (
    FEWEST_WEARERS,
    bounds,
    cumulative,
    quantile,
    state,
)
from schemas.measure_words import SUGGESTED_MONTHS
from schemas.measures.recheck_interval import RecheckInterval

# In the order of the bits of grouping_id, highest first; 0 where grouped by.
COLUMNS = ("device_style", "climate_group", "season", "days_since_dry_band")
GROUP = ["grouping_id", *COLUMNS]
DAYS_A_MONTH = 30.4375
TENTH, HALF = 0.1, 0.5
MIDDLE_OF_WEEK = 4
REPLICATES = 200


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of readings into medians of gain and days until a share is over the level.

    Args:
        counts: `recheck_interval`: readings, groups, and outcomes by week and cluster.
        settings: the action level and the confidence level.

    Returns:
        The table recheck_interval.
    """
    given = counts["recheck_interval"]
    groups = given.filter(pl.col("part") == "group")
    if groups.is_empty():
        return as_table(no_rows(RecheckInterval), RecheckInterval)
    level = settings.moisture_action_level_ul
    gains = median_gains(
        given.filter(pl.col("part") == "gain").select(
            *GROUP, pl.col("gain_ul").alias("value"), "below", "n"
        ),
        groups, settings.confidence_level,
    )  # fmt: skip
    outcomes = given.filter(pl.col("part") == "over").partition_by(GROUP, as_dict=True)
    rows = []
    groups = groups.join(gains, on=GROUP, how="left", nulls_equal=True, maintain_order="left")
    for group in groups.to_dicts():
        name = tuple(group[column] for column in GROUP)
        tenth, half = crossings(outcomes.get(name), group, settings.confidence_level)
        rows.append(
            group
            | _named(group)
            | _days("tenth", tenth)
            | _days("half", half)
            | {
                "action_level_ul": level,
                "over": None if level is None else group["over_level"],
                "undecided": None if level is None else group["undecided"],
                "is_tenth_at_most": None if np.isnan(tenth.days) else tenth.is_at_most,
                "suggested_months": suggested(tenth.days),
            }
        )
    return as_table(pl.DataFrame(rows, infer_schema_length=None), RecheckInterval)


def median_gains(readings: pl.DataFrame, groups: pl.DataFrame, level: float) -> pl.DataFrame:
    """Return each group's median reading with its state, its bounds and its limits.

    A value lies inside bounds that assume nothing of the readings below a limit. The limits are
    the readings at Wilson's limits of one half, each wearer counted as one load, the lower with
    every reading below its limit at 0, the upper with each at its limit.

    Args:
        readings: the columns of a group, value, below, n.
        groups: the columns of a group, n, wearers, below_detection.
        level: confidence level.

    Returns:
        The columns of a group, median_gain_ul, _state, _bound_low_ul, _bound_high_ul, _low_ul,
        _high_ul; limits null under ten wearers and where there is no value.
    """
    wearers = groups["wearers"].to_numpy().astype(float)
    low, high = wilson(wearers / 2, wearers, level)
    ends = groups.select(*GROUP, pl.Series("lower", low), pl.Series("upper", high))
    used = readings.rename({"n": "loads"}).join(ends, on=GROUP, nulls_equal=True)
    shares: dict[str, float | pl.Expr] = {
        "middle": 0.5, "lower": pl.col("lower").first(), "upper": pl.col("upper").first()
    }  # fmt: skip
    held = bounds(used.select(*GROUP, "value", "below", "loads", "lower", "upper"), GROUP, shares)
    curve = cumulative(used, GROUP).group_by(GROUP).agg(quantile(pl.lit(0.5)).alias("fitted"))
    frame = held.join(curve, on=GROUP, how="left", nulls_equal=True).join(
        groups.select(*GROUP, "n", "wearers", "below_detection"), on=GROUP, nulls_equal=True
    )
    least, most = pl.col("middle_low"), pl.col("middle_high")
    found = state(least, most, pl.col("n"), pl.col("below_detection"), pl.col("wearers"))
    is_value = pl.col("median_gain_state") == "value"
    is_bounded = ~is_value & (pl.col("wearers") >= FEWEST_WEARERS)
    return frame.with_columns(found.alias("median_gain_state")).select(
        *GROUP,
        "median_gain_state",
        pl.when(is_value).then(pl.col("fitted").clip(least, most)).alias("median_gain_ul"),
        pl.when(is_bounded).then(least).alias("median_gain_bound_low_ul"),
        pl.when(is_bounded & (most > 0)).then(most).alias("median_gain_bound_high_ul"),
        pl.when(is_value & (pl.col("lower_low") > 0)).then(pl.col("lower_low"))
        .alias("median_gain_low_ul"),
        pl.when(is_value).then(pl.col("upper_high")).alias("median_gain_high_ul"),
    )  # fmt: skip


def crossings(
    outcomes: pl.DataFrame | None, group: dict[str, int | None], level: float
) -> tuple[Crossing, ...]:
    """Return when a tenth and a half of a group's loads are over the level."""
    first, last = group["shortest_gap_days"], group["longest_gap_days"]
    if outcomes is None or first is None or last is None:
        return UNKNOWN, UNKNOWN
    return days_until(
        7 * outcomes["week"].to_numpy() + MIDDLE_OF_WEEK, outcomes["over"].to_numpy(),
        outcomes["n"].to_numpy(), outcomes["cluster"].to_numpy(), (TENTH, HALF),
        first=first, last=last, level=level, replicates=REPLICATES,
    )  # fmt: skip


def suggested(days: float) -> str | None:
    """Return the longest step of months that is not longer than these days."""
    if np.isnan(days):
        return None
    steps = [word for word in SUGGESTED_MONTHS[1:] if int(word) * DAYS_A_MONTH <= days]
    return steps[-1] if steps else SUGGESTED_MONTHS[0]


def _named(group: dict[str, object]) -> dict[str, object]:
    code = int(group["grouping_id"])  # type: ignore[call-overload]
    by = [name for at, name in enumerate(COLUMNS) if not code >> (len(COLUMNS) - 1 - at) & 1]
    values = [group[name] for name in by] + [None] * 3
    return {"grouping": "+".join(by) or "all"} | {f"group_{at + 1}": values[at] for at in range(3)}


def _days(share: str, found: Crossing) -> dict[str, float | None]:
    values = {"over": found.days, "low": found.low, "high": found.high}
    return {
        f"days_to_{share}_{end}": None if np.isnan(days) else days for end, days in values.items()
    }


RECHECK_INTERVAL = Measure(
    schema=RecheckInterval,
    queries=("recheck_interval",),
    group_wide=("recheck_gain", "recheck_group", "recheck_week"),
    views=("recheck_load",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(follow_up.recheck),
    method="recheck",
    label="When to come back",
)
