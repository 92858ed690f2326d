"""A figure's numbers as printed cells and as a CSV link."""

import csv
import io
from typing import Any
from urllib.parse import quote

import polars as pl

from reports import words
from reports.figure import TableColumn

FORMULA = ("=", "+", "-", "@", "\t", "\r")


def printed(value: Any, column: TableColumn) -> str:
    """Print one cell; null is an en dash."""
    if value is None:
        return "–"
    if column.kind == "count":
        return words.count(value)
    if column.kind == "share":
        return words.percent(value, column.digits or 1)
    if column.kind == "number":
        return words.number(value, column.digits)
    if column.kind == "date":
        return words.day(value)
    if column.kind == "yes_no":
        return "yes" if value else "no"
    return str(value)


def cells(frame: pl.DataFrame, columns: tuple[TableColumn, ...]) -> list[list[str]]:
    """Print a frame's rows in the order of `columns`."""
    rows = frame.select([column.name for column in columns]).rows()
    return [
        [printed(value, column) for value, column in zip(row, columns, strict=True)] for row in rows
    ]


def neutralised(value: Any) -> Any:
    """Keep a spreadsheet from reading a text as a formula: it gets a leading apostrophe."""
    if isinstance(value, str) and value.startswith(FORMULA):
        return "'" + value
    return value


def csv_text(frame: pl.DataFrame, columns: tuple[TableColumn, ...]) -> str:
    """Write the frame's columns as CSV with full precision; shares stay 0-1, null is empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    names = [column.name for column in columns]
    writer.writerow(names)
    for row in frame.select(names).rows():
        writer.writerow(["" if value is None else neutralised(value) for value in row])
    return out.getvalue()


def csv_link(text: str) -> str:
    """Return the CSV as a data address that works from a file, offline."""
    return "data:text/csv;charset=utf-8," + quote("\ufeff" + text)
