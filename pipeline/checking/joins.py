"""How a chamber's log and the clinic's records find each other, and what its clock says."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.statistics.clock_offset import ClockOffset, clock_offset

LEAST_MINUTES, MONTH = 1.0, 30
RUN = ["file_id", "line", "part_of_line", "dryer_id", "session_id", "started_at",
       "match_window_minutes"]  # fmt: skip
RECORD = ["session_id", "dryer_id", "started_at", "time_precision", "treatment"]


@dataclass(frozen=True)
class Joins:
    """What is to be said of one site's log.

    Attributes:
        sentences: what joined and what did not, and what to write.
        is_poor: most runs or records found nothing, or the clock is off.
        offset_minutes: the `clock_offset_minutes` to write, where the clock is off.
        section: the log's section of the mapping.
    """

    sentences: tuple[str, ...]
    is_poor: bool
    offset_minutes: float | None = None
    section: str = ""


def explain(
    runs: pl.DataFrame, records: pl.DataFrame, classes: Mapping[str, int], *,
    offset_now: float, section: str, chambers: Sequence[str],
) -> Joins:  # fmt: skip
    """Say how one site's runs and records join.

    Args:
        runs: accepted runs of the log, columns as `RUN`.
        records: accepted rows of the records, columns as `RECORD`.
        classes: runs by class: aid_recorded, ambiguous, no_aid_recorded.
        offset_now: the offset that the mapping adds now.
        section: the log's section of the mapping.
        chambers: chambers listed at the site.
    """
    dried = records.filter(pl.col("treatment").fill_null("dried") == "dried")
    names = dried["session_id"].drop_nulls().implode()
    by_session = runs.filter(pl.col("session_id").is_in(names)).height
    joined, near = classes.get("aid_recorded", 0), classes.get("ambiguous", 0)
    by_time = max(joined - by_session, 0)
    alone = runs.height - joined - near
    told = [
        f"{runs.height} runs: {by_session} joined by session, {by_time} by time, {alone} without a"
        f" record, {near} near more than one"
    ]
    if by_session == 0 and runs["match_window_minutes"].null_count() == runs.height:
        told.append(
            "the log names no session of the records and nothing joins by time: say how near a"
            f" start must be, as in [{section}] match_window_minutes = 15"
        )
    found = _offset(runs, dried, chambers)
    needed = None
    if found is not None and _is_off(found):
        needed = tidy(offset_now - found.minutes)
        told += _off(found, offset_now, needed, section)
    elif found is None and dried.height and alone > runs.height / 2:
        told.append("no single difference between the two clocks explains the rest")
    is_poor = bool(dried.height) and (alone > runs.height / 2 or needed is not None)
    return Joins(tuple(told), is_poor, needed, section)


def tidy(minutes: float) -> float:
    """Round an offset to whole minutes where it is near one, else to a tenth."""
    whole = round(minutes)
    return float(whole) if abs(minutes - whole) <= 0.3 else round(minutes, 1)


def _is_off(found: ClockOffset) -> bool:
    return abs(found.minutes) >= LEAST_MINUTES and not found.low <= 0 <= found.high


def _off(found: ClockOffset, now: float, needed: float, section: str) -> list[str]:
    way = "fast" if found.minutes > 0 else "slow"
    minutes = abs(tidy(found.minutes))
    low, high = sorted((abs(found.low), abs(found.high)))
    still = "still " if now else ""
    told = [
        f"the log's clock is {still}{minutes:g} minutes {way} beside the records' (95 % interval"
        f" {low:.1f} to {high:.1f}; {found.pairs} of {found.records} records agree, chance would"
        f" give {found.expected:.0f}): [{section}] clock_offset_minutes = {needed:g}",
        "fast is negative, slow is positive: the number is added to the log's times; look at both"
        " clocks before you write it, since records may be written a while before the start",
    ]
    if now and abs(needed + now) <= 1:
        told.append(f"clock_offset_minutes = {now:g} has the wrong sign")
    if found.drift is not None and found.drift_low is not None and found.drift_high is not None:
        is_steady = found.drift_low <= 0 <= found.drift_high
        if not is_steady and abs(found.drift) * MONTH >= LEAST_MINUTES:
            gains = "gains" if found.drift > 0 else "loses"
            told.append(
                f"it {gains} {abs(found.drift) * MONTH:.1f} minutes a month: set the chamber's"
                " clock; one offset holds for a while only"
            )
    return told


def _offset(
    runs: pl.DataFrame, records: pl.DataFrame, chambers: Sequence[str]
) -> ClockOffset | None:
    """Return the offset of the chamber with most agreeing records."""
    only = chambers[0] if len(chambers) == 1 else None
    timed = records.filter(pl.col("time_precision") == "instant")
    best: ClockOffset | None = None
    for name in chambers:
        own, seen = (
            _minutes(frame.filter(pl.col("dryer_id").fill_null(only or "") == name))
            for frame in (runs, timed)
        )
        found = clock_offset(own, np.unique(seen)) if own.size and seen.size else None
        if found is not None and (best is None or found.pairs > best.pairs):
            best = found
    return best


def _minutes(frame: pl.DataFrame) -> NDArray[np.float64]:
    return frame["started_at"].dt.epoch("s").to_numpy().astype(np.float64) / 60
