"""A figure's numbers as printed cells and as a CSV link."""

import csv
import io
import unicodedata
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import polars as pl
from markupsafe import Markup, escape

from reports import words
from reports.figure import TableColumn
from schemas.spreadsheet import neutralised

DIGITS = 7
# Classes of Unicode's bidirectional algorithm (Standard Annex 9) that set or turn direction.
TURNING = frozenset(
    {"R", "AL", "RLE", "RLO", "RLI", "LRE", "LRO", "LRI", "FSI", "PDF", "PDI", "AN"}
)

PRINT: dict[str, Callable[[Any, int], str]] = {
    "text": lambda value, _: str(value),
    "count": lambda value, _: words.count(value),
    "share": words.percent,
    "number": words.number,
    "date": lambda value, _: words.day(value),
}


def printed(value: Any, column: TableColumn) -> str:
    """Print one cell; null is an en dash."""
    return "–" if value is None else PRINT[column.kind](value, column.digits)


def cells(frame: pl.DataFrame, columns: tuple[TableColumn, ...]) -> list[list[str]]:
    """Print a frame's rows in the order of `columns`."""
    rows = frame.select([column.name for column in columns]).rows()
    return [
        [printed(value, column) for value, column in zip(row, columns, strict=True)] for row in rows
    ]


def isolated(text: str) -> Markup:
    """Keep a text of another direction from turning the words around it; others stand bare."""
    if any(unicodedata.bidirectional(sign) in TURNING for sign in text):
        return Markup("<bdi>{}</bdi>").format(text)
    return escape(text)


def csv_text(frame: pl.DataFrame, columns: tuple[TableColumn, ...]) -> str:
    """Write the frame's columns as CSV, numbers to seven digits; shares stay 0-1, null is empty.

    The warehouse and the tables of `drytally share` hold every digit; a page need not.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    names = [column.name for column in columns]
    writer.writerow(names)
    for row in frame.select(names).rows():
        writer.writerow([_csv_value(value) for value in row])
    return out.getvalue()


def _csv_value(value: Any) -> Any:
    if value is None:
        return ""
    return f"{value:.{DIGITS}g}" if isinstance(value, float) else neutralised(value)


def csv_link(text: str) -> str:
    """Return the CSV as a data address that works from a file, offline."""
    return "data:text/csv;charset=utf-8," + quote("\ufeff" + text, safe=",:;/")
