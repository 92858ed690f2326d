"""What the last month did against the month before: the group's series, and sites with a signal."""

from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Frames
from reports.figures.trend import SERIES, SURVIVES, judged

MOST_SITES = 6
MOISTURE = "median_moisture"


def months_compared(frames: Frames) -> str:
    """Name the last month and the one before, for a heading."""
    table = rates.table(frames, "monthly_trend")
    months = [] if table.is_empty() else table["month"].unique().sort().to_list()
    return " against ".join(words.month(month) for month in reversed(months[-2:]))


def last_month(frames: Frames) -> list[str]:
    """Return a sentence a series, then one that names the sites with a signal in the last month.

    A change between two months is told with what chance does: whether the last month signals.
    """
    table = rates.table(frames, "monthly_trend")
    if table.is_empty():
        return []
    last = table["month"].max()
    told = []
    for series, name in SERIES:
        own = table.filter(pl.col("site_id").is_null(), series=series).sort("month").tail(2)
        rows = own.to_dicts()
        if len(rows) == 2 and rows[1]["month"] == last:
            told.append(_series(name, *rows))
    sites = _sites(frames, table.filter(pl.col("site_id").is_not_null(), month=last))
    return [said for said in (*told, sites) if said]


def _series(name: str, before: dict[str, Any], now: dict[str, Any]) -> str:
    if before["value"] is None or now["value"] is None:
        return ""
    was, is_now = (_printed(row) for row in (before, now))
    told = judged(now) if now["signal"] else "within chance"
    season = " Water moves with the season." if now["signal"] and is_moisture(now) else ""
    return f"{name}: {is_now}, was {was}; {told}.{season}"


def is_moisture(row: dict[str, Any]) -> bool:
    """Tell whether a row is of the series of water."""
    return bool(row["series"] == MOISTURE)


def _printed(row: dict[str, Any]) -> str:
    if is_moisture(row):
        return f"{words.number(row['value'], 2)} µL"
    return words.percent(row["value"], 1 if row["value"] < 0.1 else 0)


def _sites(frames: Frames, rows: pl.DataFrame) -> str:
    """Name the sites whose series signals and survives the number of series."""
    names = rates.site_names(frames)
    firm = rows.filter(pl.col("signal").is_not_null() & (pl.col("p_adjusted") < SURVIVES))
    found = sorted({names.get(site, site) for site in firm["site_id"].to_list()}, key=str.lower)
    if not found:
        return ""
    more = f" and {len(found) - MOST_SITES} more" if len(found) > MOST_SITES else ""
    return f"Sites with a month beyond chance: {', '.join(found[:MOST_SITES])}{more}."
