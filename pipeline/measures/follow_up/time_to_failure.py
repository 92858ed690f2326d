"""How long an aid that was dried and returned working stays so."""

import numpy as np
import polars as pl

from pipeline.disclosure import follow_up
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.bootstrap import resampled_cells
from pipeline.statistics.intervals import Floats, wilson
from pipeline.statistics.survival import (
    COMPETING,
    EVENT,
    binned_incidence,
    cumulative_incidence,
    loglog_limits,
)
from schemas.measures.time_to_failure import TimeToFailure

GROUP = ["condition_before", "exposure"]
STEP_DAYS = 30
BIN_DAYS = 30


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of aids by days and event into cumulative incidence every 30 days.

    Args:
        counts: `time_to_failure`, aids by days and event, and `time_to_failure_wearers`, wearers
            by pattern.
        settings: the confidence level.

    Returns:
        The table time_to_failure; a group ends where no aid was followed longer.
    """
    aids = with_all(counts["time_to_failure"])
    numbered = (pl.col("number").rank("dense") - 1).cast(pl.Int64)
    patterns = with_all(counts["time_to_failure_wearers"].with_columns(numbered))
    errors = errors_by_wearer(patterns)
    wearers = patterns.group_by(GROUP).agg(
        pl.col("wearers").filter(pl.col("number").is_first_distinct()).sum()
    )
    many = {(row[0], row[1]): row[2] for row in wearers.select(*GROUP, "wearers").rows()}
    parts = [
        curve(group, errors.get(name[1:]), settings.confidence_level, many.get(name[1:]))
        for name, group in aids.group_by("basis", *GROUP, maintain_order=True)
    ]
    empty = no_rows(TimeToFailure).drop("wearers")
    frame = pl.concat([empty, *parts], how="diagonal_relaxed").join(wearers, on=GROUP, how="left")
    is_all = pl.col("exposure") == "all"
    return as_table(
        frame.with_columns(
            pl.when(is_all).then(pl.lit("all")).otherwise(pl.lit("exposure")).alias("grouping"),
            pl.when(~is_all & (pl.col("exposure") != "not_recorded")).then("exposure"),
        ),
        TimeToFailure,
    )


def with_all(frame: pl.DataFrame) -> pl.DataFrame:
    """Add every row once more under the exposure 'all'."""
    return pl.concat([frame, frame.with_columns(pl.lit("all").alias("exposure"))])


def curve(
    group: pl.DataFrame, errors: Floats | None, level: float, wearers: int | None = None
) -> pl.DataFrame:
    """Return one group's rows, one every 30 days up to the longest follow-up.

    A share of 0 has Wilson's limits on the aids still followed, by wearer on no more than the
    group's wearers: no failure yet is a share with an interval.

    Args:
        group: days, event, n and seen_again of one basis, condition and exposure.
        errors: standard error of the share by wearer at the end of every 30 days.
        level: confidence level.
        wearers: the group's wearers; None: not known.
    """
    days, event, n = (group[name].to_numpy() for name in ("days", "event", "n"))
    found = cumulative_incidence(days, event, n)
    at = np.arange(STEP_DAYS, int(days.max()) + 1, STEP_DAYS)
    share, se, competing = found.at(at)
    low, high = loglog_limits(share, se, level)
    by_wearer = np.full(at.size, np.nan)
    if errors is not None and group["basis"][0] == "site_end":
        by_wearer = errors[at // BIN_DAYS - 1]
    adjusted_low, adjusted_high = loglog_limits(share, by_wearer, level)
    followed = found.followed(at)
    low, high = _if_none(share, followed, level, low, high)
    if wearers and group["basis"][0] == "site_end":
        clusters = np.minimum(followed, wearers)
        adjusted_low, adjusted_high = _if_none(share, clusters, level, adjusted_low, adjusted_high)
    total, seen_again = int(n.sum()), int(group["seen_again"].sum())
    until = days[:, None] <= at
    return pl.DataFrame(
        {
            "days": at,
            "at_risk": followed.astype(int),
            "failed": (until * (n * (event == EVENT))[:, None]).sum(axis=0),
            "competing": (until * (n * (event == COMPETING))[:, None]).sum(axis=0),
            "share_failed": share,
            "low": low,
            "high": high,
            "adjusted_low": adjusted_low,
            "adjusted_high": adjusted_high,
            "share_competing": competing,
        }
    ).with_columns(
        *(pl.lit(group[name][0]).alias(name) for name in ("basis", *GROUP)),
        pl.lit(total).alias("n"),
        pl.lit(seen_again).alias("seen_again"),
        pl.lit(seen_again / total).alias("share_seen_again"),
    )


def _if_none(
    share: Floats, n: Floats, level: float, low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Put Wilson's limits of 0 of n where no one failed and someone was followed."""
    none = (share == 0) & (n > 0)
    _, most = wilson(np.zeros_like(n), n, level)
    return np.where(none, 0.0, low), np.where(none, most, high)


def errors_by_wearer(patterns: pl.DataFrame) -> dict[tuple[str, str], Floats]:
    """Return each group's standard error of the share, from resampled wearers.

    Args:
        patterns: number, wearers, days (thirties), event, n, by condition and exposure.

    Returns:
        {(condition, exposure): error at the end of every 30 days}.
    """
    if patterns.is_empty():
        return {}
    groups = patterns.select(GROUP).unique().sort(GROUP).with_row_index("group")
    bins = int(patterns.select(pl.col("days").max()).item()) + 1
    placed = patterns.join(groups, on=GROUP)
    cell = (placed["group"].cast(pl.Int64) * bins + placed["days"]) * 3 + placed["event"]
    many = patterns.unique("number").sort("number")["wearers"].to_numpy()
    drawn = resampled_cells(
        placed["number"].to_numpy(), cell.to_numpy(), placed["n"].to_numpy(), many,
        groups.height * bins * 3,
    )  # fmt: skip
    shares, _ = binned_incidence(drawn.reshape(-1, groups.height, bins, 3))
    errors = shares.std(axis=0, ddof=1)
    names = groups.select(GROUP).rows()
    return {(str(name[0]), str(name[1])): row for name, row in zip(names, errors, strict=True)}


TIME_TO_FAILURE = Measure(
    schema=TimeToFailure,
    queries=("time_to_failure", "time_to_failure_wearers"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(follow_up.failures),
    method="after-rescue",
    label="Next problem after a rescue",
    temporary=("aid_serial", "followed_aid"),
)
