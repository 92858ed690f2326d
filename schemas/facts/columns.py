"""Columns that several fact tables share, and a way to take over another table's columns."""

from collections.abc import Collection
from typing import Any

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.exports.catalogue import columns_of, key_of, moment_of
from schemas.exports.sessions import Sessions

ROW: dict[str, tuple[Any, Any]] = {
    "file_id": (str, column("The file version the row was read from.", required=True)),
    "line": (int, column("Physical line where the record starts.", required=True)),
    "part_of_line": (
        int,
        column("Which of the rows made of one line, from 1.", ge=1, required=True),
    ),
}
LOCAL: dict[str, tuple[Any, Any]] = {
    "local_date": (pl.Date, column("Day of it in the site's zone.", required=True)),
    "time_precision": (
        str,
        column(
            "Whether the clock time was given, or the day alone (then local noon is stored).",
            vocabulary=words.TIME_PRECISION,
        ),
    ),
}


def taken_from(model: type[Table], only: Collection[str]) -> type[Table]:
    """Return a table with some of another's columns, but none of its rules or its name.

    A fact keeps the words, units and hash domains of the export it comes from without a second
    list of them; values were checked when the export was screened.
    """
    return _table(model, {name: pair for name, pair in _columns(model).items() if name in only})


def rows_of(model: type[Table], moment: str = "") -> type[Table]:
    """Return an export's columns as the warehouse holds its rows.

    An instant of the export stands in UTC under its name with `_utc`, described by `moment`, with
    the local day and the precision after it; at the end stands where the row was read.
    """
    held: dict[str, tuple[Any, Any]] = {}
    for name, pair in _columns(model).items():
        if name != moment_of(model):
            held[name] = pair
            continue
        held[f"{name}_utc"] = (pair[0], column(moment, required=True))
        held |= LOCAL
    return _table(model, held | ROW)


def again(model: type[Table], name: str) -> Any:
    """Return a column as another table declares it: the same thing is said once."""
    return _columns(model)[name][1]


def shared(model: type[Table], other: type[Table]) -> list[str]:
    """Return the columns that two exports share, the other's key apart, in the first's order."""
    theirs = {spec.name for spec in columns_of(other)} - set(key_of(other))
    return [spec.name for spec in columns_of(model) if spec.name in theirs]


def of_load() -> list[str]:
    """Return the columns of a session on which its rows must agree, in declared order."""
    return [spec.name for spec in columns_of(Sessions) if spec.of_load]


def _columns(model: type[Table]) -> dict[str, tuple[Any, Any]]:
    return {
        name: (note.raw_annotation, column(field.description or "", **(field.metadata or {})))
        for name, (note, field) in model.__fields__.items()
    }


def _table(model: type[Table], held: dict[str, tuple[Any, Any]]) -> type[Table]:
    body: dict[str, Any] = {"__doc__": model.__doc__, "__module__": model.__module__}
    body["__annotations__"] = {name: kind for name, (kind, _) in held.items()}
    body |= {name: field for name, (_, field) in held.items()}
    return type(f"ColumnsOf{model.__name__}", (Table,), body)
