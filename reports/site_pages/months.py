"""The months of a site: runs in each, weeks without data, signals, and the staff room's sheets."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from reports import grids, rates, words
from reports.figure import Frames
from reports.figures.calendar_strip import MONTHS
from reports.figures.trend import SERIES, judged
from reports.grids import Cell, Grid, GridRow

MOST_SIGNALS = 12


def by_site(frames: Frames) -> dict[str, Grid]:
    """Return each site's runs by month, a line a year, newest first; all months since its first."""
    frame = rates.table(frames, "utilisation")
    if frame.is_empty():
        return {}
    counted = frame.group_by("site_id", "month").agg(
        pl.col("runs").sum(), pl.col("runs").null_count().alias("hidden"),
        pl.col("weeks_without_data").max(),
    ).sort("site_id", "month")  # fmt: skip
    last: date = frame["month"].max()  # type: ignore[assignment]
    return {
        str(site): _grid({row["month"]: row for row in own.to_dicts()}, last)
        for (site,), own in counted.group_by("site_id", maintain_order=True)
    }


def _grid(rows: Mapping[date, dict[str, Any]], last: date) -> Grid:
    """Lay out the months from the site's first to the group's last."""
    first = min(rows)
    limits = grids.limits_of([row["runs"] for row in rows.values() if row["runs"]])
    lines = []
    for year in range(last.year, first.year - 1, -1):
        cells = []
        for number in range(1, 13):
            month = date(year, number, 1)
            is_within = first <= month <= last
            cells.append(_cell(month, rows.get(month), limits) if is_within else None)
        lines.append(GridRow(str(year), tuple(cells)))
    heads = tuple((name[0], name) for name in MONTHS)
    return Grid("Runs of the chambers by month", "Year", heads, tuple(lines), "calendar")


def _cell(month: date, row: dict[str, Any] | None, limits: tuple[float, ...]) -> Cell:
    name = words.month(month)
    if row is None:
        return Cell("–", state="none", says=f"{name}: no data.")
    if row["hidden"]:
        return Cell("hidden", state="hidden", says=f"{name}: hidden.")
    runs, gaps = row["runs"], row["weeks_without_data"] or 0
    said = f"{name}: {words.plural(runs, 'run')}"
    if gaps:
        weeks = words.plural(gaps, "week")
        return Cell(words.count(runs), f"{gaps} wk", "part", None, None,
                    f"{said}, {weeks} without data.")  # fmt: skip
    level = grids.level_of(runs, limits)
    return Cell(words.count(runs), "", "value", level, None, f"{said}.")


def signals_by_site(frames: Frames) -> dict[str, list[str]]:
    """Say each site's months that stand out, newest first; those that chance may give say so.

    Months in a row on one side, by one rule, are told once.
    """
    frame = rates.table(frames, "monthly_trend")
    if frame.is_empty():
        return {}
    names = dict(SERIES)
    rows = frame.filter(pl.col("site_id").is_not_null() & pl.col("signal").is_not_null())
    spans: dict[str, list[dict[str, Any]]] = {}
    for row in rows.sort("site_id", "series", "month").to_dicts():
        own = spans.setdefault(row["site_id"], [])
        alike = ("series", "signal", "rule")
        if own and all(own[-1][key] == row[key] for key in alike) and _follows(own[-1], row):
            own[-1]["last"] = row["month"]
        else:
            own.append(row | {"first": row["month"], "last": row["month"]})
    return {
        site: [
            _signal(row, names)
            for row in sorted(own, key=lambda r: r["last"], reverse=True)[:MOST_SIGNALS]
        ]
        for site, own in spans.items()
    }


def _follows(before: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    last, month = before["last"], row["month"]
    return bool(month.year * 12 + month.month - last.year * 12 - last.month == 1)


def _signal(row: Mapping[str, Any], names: Mapping[str, str]) -> str:
    when = words.month(row["first"])
    if row["last"] != row["first"]:
        when += f" to {words.month(row['last'])}"
    return f"{names.get(row['series'], row['series'])}, {when}: {judged(row)}."
