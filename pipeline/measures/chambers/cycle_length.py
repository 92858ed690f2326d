"""When loads are dry, and what became of aids by the length of their cycle."""

from typing import Any

import numpy as np
import polars as pl

from pipeline.disclosure import follow_up
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.clusters import adjusted_limits, expected_effect, icc_pooled, sums_of
from pipeline.statistics.intervals import Floats
from pipeline.statistics.survival import Incidence, cumulative_incidence, loglog_limits
from schemas.measures.cycle_length import CycleLength

LOAD = ["cycle_programme", "exposed", "load_kind"]
AIDS = ("rescued", "returned_in_30_days")
STEP_MINUTES = 5


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of cycles and aids into shares by length.

    Args:
        counts: `cycle_length`: loads by minutes and end, aids by length, sums over wearers.
        settings: the confidence level.

    Returns:
        The table cycle_length.
    """
    given, level = counts["cycle_length"], settings.confidence_level
    clusters = given.filter(pl.col("part") == "clusters").with_columns(_design_effect(given))
    people = {tuple(row[name] for name in LOAD): row for row in clusters.to_dicts()}
    empty = no_rows(CycleLength).rename({"aspect": "part"})
    parts = [empty, aids(given.filter(pl.col("part").is_in(AIDS)), level)]
    # A programme that ever ends at a fixed time shows of none of its loads when it was dry.
    is_fixed = (pl.col("ended_by") == "fixed_time").any().over("cycle_programme")
    loads = given.filter(pl.col("part") == "loads").with_columns(is_fixed.alias("is_fixed"))
    for name, group in loads.partition_by(LOAD, as_dict=True).items():
        parts += curves(group, people.get(name), level)
    frame = pl.concat(parts, how="diagonal_relaxed").rename({"part": "aspect"})
    return as_table(frame, CycleLength)


def aids(sums: pl.DataFrame, level: float) -> pl.DataFrame:
    """Return shares of aids rescued and returned by condition, third and length."""
    if sums.is_empty():
        return no_rows(CycleLength).rename({"aspect": "part"})
    pool = sums.select(pl.concat_str("part", "condition_before")).to_series().to_numpy()
    found = sums_of(sums)
    limits = adjusted_limits(found, icc_pooled(found, pool), level)
    return sums.select(
        "part", "condition_before", "moisture_third", "n",
        pl.col("minutes").cast(pl.Float64),
        pl.col("m").alias("wearers"),
        pl.col("k").alias("events"),
        (pl.col("k") / pl.col("n")).alias("share"),
        pl.Series("low", limits.adjusted_low),
        pl.Series("high", limits.adjusted_high),
        pl.lit(value=True).alias("is_time_known"),
        pl.lit(0).alias("left_out"),
    )  # fmt: skip


def curves(group: pl.DataFrame, people: dict[str, Any] | None, level: float) -> list[pl.DataFrame]:
    """Return the rows of one programme, exposure and kind of load.

    Args:
        group: minutes, ended_by, stated_cycle_minutes, is_fixed, n.
        people: m wearers and effect, the design effect of "dry by the middle length".
        level: confidence level.
    """
    known = group.drop_nulls("ended_by")
    labels: dict[str, Any] = {name: group[name][0] for name in LOAD} | {
        "stated_cycle_minutes": group["stated_cycle_minutes"][0],
        "n": int(known["n"].sum()),
        "wearers": 0 if people is None else people["m"],
        "left_out": int(group.filter(pl.col("ended_by").is_null())["n"].sum()),
    }
    if known.is_empty() or group["is_fixed"].any():
        row = labels | {"part": "dry", "events": 0, "is_time_known": False}
        return [pl.DataFrame([row])]
    minutes, n = known["minutes"].to_numpy(), known["n"].to_numpy()
    is_dry = (known["ended_by"] == "dry").to_numpy()
    is_stopped = (known["ended_by"] == "stopped").to_numpy()
    effect = 1.0 if people is None else people["effect"]
    ends = np.array([minutes.min(), minutes.max()])
    first, last = STEP_MINUTES * np.ceil(ends / STEP_MINUTES)
    at = np.arange(first, last + 1, STEP_MINUTES)
    times = {"dry": minutes, "dry_stopped_never": np.where(is_stopped, minutes.max(), minutes)}
    return [
        _curve(cumulative_incidence(time, is_dry, n), at, effect, level).with_columns(
            pl.lit(part).alias("part"),
            pl.Series("events", (n * is_dry) @ (minutes[:, None] <= at)),
            pl.Series("loads_at_risk", n @ (time[:, None] >= at)),
            pl.lit(value=True).alias("is_time_known"),
            *(pl.lit(value).alias(name) for name, value in labels.items()),
            saved(cumulative_incidence(time, is_dry, n), at, labels["stated_cycle_minutes"])
            if part == "dry"
            else pl.lit(None, pl.Float64).alias("saved_minutes"),
        )
        for part, time in times.items()
    ]


def saved(found: Incidence, at: Floats, stated: float | None) -> pl.Series:
    """Return the minutes saved a load if no cycle ran longer; null under the stated cycle.

    The area under the share not yet dry, from the length asked about to the longest cycle.
    """
    ends = np.r_[0.0, found.times]
    left = np.r_[1.0, 1 - found.share]
    until = np.r_[0.0, np.cumsum(left[:-1] * np.diff(ends))]
    place = np.searchsorted(ends, at, side="right") - 1
    spent = until[place] + left[place] * (at - ends[place])
    beyond = np.maximum(until[-1] - spent, 0.0)
    is_allowed = np.full(at.size, stated is not None) & (at >= (stated or 0.0))
    return pl.Series("saved_minutes", np.where(is_allowed, beyond, np.nan)).fill_nan(None)


def _curve(found: Incidence, at: Floats, effect: float, level: float) -> pl.DataFrame:
    share, se, _ = found.at(at)
    low, high = loglog_limits(share, se * np.sqrt(effect), level)
    return pl.DataFrame(
        {"minutes": at, "share_dry": share, "share_left_damp": 1 - share, "low": low, "high": high}
    )


def _design_effect(given: pl.DataFrame) -> pl.Series:
    """Return 1 + icc·(Σn²/n - 1) of each group of loads, the correlation pooled over them."""
    sums = given.filter(pl.col("part") == "clusters")
    if sums.is_empty():
        return pl.Series("effect", [], dtype=pl.Float64)
    found = sums_of(sums)
    return pl.Series("effect", expected_effect(found, icc_pooled(found)))


CYCLE_LENGTH = Measure(
    schema=CycleLength,
    queries=("cycle_length",),
    group_wide=(
        "cycle_load",
        "cycle_middle",
        "cycle_chamber",
        "cycle_cluster",
        "cycle_reading",
        "cycle_third",
        "cycle_rescued",
        "cycle_returned",
    ),
    views=("cycle_run", "cycle_problem", "cycle_placed"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(follow_up.cycles),
    method="cycle-length",
    label="Length of the cycle",
)
