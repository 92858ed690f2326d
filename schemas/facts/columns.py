"""Columns that several fact tables share, and a way to take over another table's columns."""

from collections.abc import Collection
from typing import Any

from schemas.declare import Table, column


def taken_from(model: type[Table], *, without: Collection[str] = ()) -> type[Table]:
    """Return a table with another's columns, but none of its rules or its name.

    A fact keeps the words, units and hash domains of the export it comes from without a second
    list of them; values were checked when the export was screened.
    """
    fields = {name: pair for name, pair in model.__fields__.items() if name not in without}
    body: dict[str, Any] = {"__doc__": model.__doc__, "__module__": model.__module__}
    body["__annotations__"] = {n: note.raw_annotation for n, (note, _) in fields.items()}
    for name, (_, field) in fields.items():
        body[name] = column(field.description or "", **(field.metadata or {}))
    return type(f"ColumnsOf{model.__name__}", (Table,), body)
