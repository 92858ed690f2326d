"""Facts of a few sites with random words and numbers: any row that the columns allow may come."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl

from schemas.declare import Table
from schemas.exports.catalogue import columns_of

FIRST = date(2025, 1, 1)
DAYS = 500
GROUPS = 6
# What several rows share, so that joins find something.
FEW = {
    "dryer_id": ("D1", "D2"), "test_box_id": ("box 1", "box 2"),
    "model_code": ("M1", "M2"), "receiver_code": ("R1",), "session_id": ("S1", "S2"),
    "time_precision": ("instant", "day"), "standing": ("in_tolerance", "correctable", "overdue"),
    "moisture_basis": ("corrected", "as_read"),
}  # fmt: skip
NEVER_NULL = frozenset(
    {"is_first_cycle", "is_outside_rates", "is_order_recorded", "is_open", "treatment", "month",
     "local_date", "condition_before", "condition_before_drying", "cycle_number",
     "aids_in_chamber", "is_alone", "is_complete", "hfa_gain_before_db", "hfa_gain_after_db",
     "hfa_ospl90_before_db_spl", "hfa_ospl90_after_db_spl"}
)  # fmt: skip
OFTEN = {
    "treatment": ("dried", "dried", "cleaned_only"), "visit_reason": ("clean_and_check",),
    "condition_before": ("normal", "normal", "dead", "weak"),
    "condition_before_drying": ("normal", "normal", "dead", "weak"),
    "exposure": ("none_known", "immersion", "splash"),
}  # fmt: skip


def made(table: type[Table], site: str, count: int, rng: np.random.Generator) -> pl.DataFrame:
    """Return random rows of one table of one site; local ids are those of any other site."""
    columns = {
        spec.name: _column(spec, site, count, rng)
        for spec in columns_of(table)
    }  # fmt: skip
    frame = pl.DataFrame(columns, strict=False)
    # Wearers of a group share aids and sessions; nobody else does.
    place = np.arange(count)
    group = place % GROUPS
    shared = place // GROUPS // 2 * GROUPS + group
    wearers = [
        wearer_of(site, 2 * g + n) for g, n in zip(group, rng.integers(0, 2, count), strict=True)
    ]
    aids, others = (4 * group + rng.integers(0, 4, count) for _ in range(2))
    is_row = table.Config.name == "session_aid"
    sessions = [f"{site} {n}" for n in (shared if is_row else place)]
    day = pl.Series([FIRST + timedelta(int(n)) for n in rng.integers(0, DAYS, count)])
    own: dict[str, Any] = {
        "file_id": [f"{site}-file"] * count, "line": list(range(2, count + 2)),
        "part_of_line": [1] * count, "wearer_key": wearers,
        "device_key": [f"{site} {n}" for n in aids],
        "session_key": sessions, "episode_id": sessions,
        "cycle_number": place // GROUPS % 2 + 1,
        "symptoms": [["distorted"] if one < 0.2 else [] for one in rng.random(count)],
        "started_at_utc": [datetime(d.year, d.month, d.day, 9, tzinfo=UTC) for d in day],
        "month": day.dt.month_start(), "started_on": day, "ended_on": day,
    }  # fmt: skip
    own["quarter"] = day.dt.truncate("1q")
    for name in ("local_date", "known_from", "occurred_on", "last_local_date"):
        own[name] = day
    kinds = frame.schema
    for name, numbers in (("device_id", aids), ("new_device_id", others)):
        gone = (rng.random(count) < 0.15) & (table.Config.name in {"session_aid", "service_event"})
        own[name] = [None if out else f"A{n}" for n, out in zip(numbers, gone, strict=True)]
    given = {name: value for name, value in own.items() if name in kinds}
    if kinds.get("month") != pl.Date:
        given.pop("month", None)
    return frame.with_columns(
        pl.Series(name, value).cast(kinds[name]) for name, value in given.items()
    )


def wearer_of(site: str, number: int) -> str:
    """Return the key of a wearer: two of each group."""
    return f"{site} W{number}"


def _column(spec: Any, site: str, count: int, rng: np.random.Generator) -> pl.Series:
    words: Sequence[str] | None = FEW.get(spec.name) or OFTEN.get(spec.name)
    if words is None and spec.vocabulary:
        words = [*spec.vocabulary]
    kind = spec.dtype
    values: list[Any]
    if spec.name == "site_id":
        values = [site] * count
    elif kind == pl.List(pl.String):
        values = [[str(w) for w in rng.choice(words or ["x"], 1)] for _ in range(count)]
    elif words is not None:
        values = [str(word) for word in rng.choice(list(words), count)]
    elif kind == pl.Boolean:
        values = [bool(one) for one in rng.random(count) < 0.5]
    elif kind == pl.Int64:
        values = [int(one) for one in rng.integers(1, 40, count)]
    elif kind == pl.Float64 and ("moisture" in spec.name or "limit" in spec.name):
        # Few values, so that the middle of all sites holds while one of them changes.
        values = [float(one) for one in rng.choice([1.0, 4.0, 4.0, 4.0], count)]
    elif kind == pl.Float64:
        values = [float(one) for one in np.round(rng.gamma(2, 5, count), 1)]
    elif kind == pl.Date:
        values = [FIRST + timedelta(int(n)) for n in rng.integers(0, DAYS, count)]
    elif kind == pl.String:
        values = [f"{spec.name} {n}" for n in rng.integers(0, 3, count)]
    else:
        values = [None] * count
    if spec.name not in {*NEVER_NULL, "site_id"} and not spec.required:
        gone = rng.random(count) < 0.15
        values = [None if lost else one for one, lost in zip(values, gone, strict=True)]
    return pl.Series(spec.name, values, kind, strict=False)
