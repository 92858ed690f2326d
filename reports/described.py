"""The dictionary as pages show it: tables with their columns, and the tables of a method."""

from typing import Any

import polars as pl

from reports.figure import Frames

COLUMNS = ("column_name", "type", "unit", "description")
# Of a measure only: what pages call it, and the section of the methods page that explains it.
RECORD = ("label", "method")


def tables(frames: Frames) -> list[dict[str, Any]]:
    """Return every table by name: name, anchor, label, method and rows of its columns as text.

    Label and method are "" for a table that is no measure.
    """
    frame = frames.get("dictionary", pl.DataFrame())
    if frame.is_empty():
        return []
    missing = [pl.lit("").alias(name) for name in RECORD if name not in frame.columns]
    text = frame.with_columns(missing).with_columns(pl.col(*COLUMNS, *RECORD).fill_null(""))
    found = []
    for name in sorted(text["table_name"].unique()):
        own = text.filter(pl.col("table_name") == name)
        label, method = own.select(RECORD).row(0)
        found.append(
            {"name": name, "anchor": f"t-{name}", "label": label, "method": method,
             "rows": own.select(COLUMNS).rows()}
        )  # fmt: skip
    return found


def by_method(frames: Frames) -> dict[str, list[dict[str, Any]]]:
    """Return the tables that each section of the methods page explains, by its anchor."""
    found: dict[str, list[dict[str, Any]]] = {}
    for table in tables(frames):
        if table["method"]:
            found.setdefault(table["method"], []).append(table)
    return found
