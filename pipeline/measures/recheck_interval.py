"""How much water an aid gains between dryings, and when a tenth of aids is over a level."""

import numpy as np
import polars as pl

from pipeline.measures.measure import Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.current_status import UNKNOWN, Crossing, days_until
from pipeline.statistics.intervals import wilson
from schemas.measures.recheck_interval import SUGGESTED_MONTHS, RecheckInterval

# In the order of the bits of grouping_id, highest first; 0 where grouped by.
COLUMNS = ("device_style", "climate_group", "season", "days_since_dry_band")
GROUP = ["grouping_id", *COLUMNS]
DAYS_A_MONTH = 30.4375
TENTH, HALF = 0.1, 0.5
FEWEST_WEARERS = 10
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
    readings = given.filter(pl.col("part") == "gain").partition_by(GROUP, as_dict=True)
    outcomes = given.filter(pl.col("part") == "over").partition_by(GROUP, as_dict=True)
    rows = []
    for group in groups.to_dicts():
        name = tuple(group[column] for column in GROUP)
        row = group | median_gain(readings[name], group["wearers"], settings.confidence_level)
        tenth, half = crossings(outcomes.get(name), group, settings.confidence_level)
        rows.append(
            row
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


def median_gain(readings: pl.DataFrame, wearers: int, level: float) -> dict[str, float | None]:
    """Return the median reading and its limits; null where one may lie below a detection limit.

    The limits are the readings at Wilson's limits of one half, each wearer counted as one load.

    Args:
        readings: value, below, n.
        wearers: how many wearers; under ten there are no limits.
        level: confidence level.
    """
    ordered = readings.group_by("value").agg(pl.col("n").sum()).sort("value")
    value, n = ordered["value"].to_numpy(), ordered["n"].to_numpy()
    limit = readings.filter("below")["value"].max()
    reached = np.cumsum(n) / n.sum()
    low, high = wilson(wearers / 2, wearers, level)

    def reading(share: float) -> float | None:
        found = float(value[np.searchsorted(reached, share - 1e-9)])
        return None if limit is not None and found <= float(limit) else found  # type: ignore[arg-type]

    has_limits = wearers >= FEWEST_WEARERS
    return {
        "median_gain_ul": reading(0.5),
        "median_gain_low_ul": reading(float(low)) if has_limits else None,
        "median_gain_high_ul": reading(float(high)) if has_limits else None,
    }


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
    name="recheck_interval", schema=RecheckInterval, queries=("recheck_interval",), infer=infer
)
