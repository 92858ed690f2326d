"""Read published tables as frames, for pages and commands."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import polars as pl

from pipeline.errors import StoreError
from pipeline.warehouse.connect import columns, reader
from schemas import dictionary

FILLED = ("facts", "measures", "audit")


def read_tables(warehouse: Path, names: Sequence[str]) -> dict[str, pl.DataFrame]:
    """Read tables whole, in a fixed order of rows.

    Raises:
        StoreError: where the warehouse is missing, damaged or lacks a table or a declared column.
    """
    with reader(warehouse) as connection:
        found = {
            name: connection.sql(f'SELECT * FROM "{name}" ORDER BY ALL').pl() for name in names
        }
    for name, declared in _declared().items():
        if name in found and (lacking := declared - set(found[name].columns)):
            raise StoreError(
                "the warehouse comes from another version: it lacks a column",
                found=f"table {name} without {', '.join(sorted(lacking))}",
                done="Nothing was written.",
                todo="Run drytally rebuild --store DIR.",
            )
    return found


@cache
def _declared() -> dict[str, frozenset[str]]:
    """Return the columns of every table that this version fills, by table."""
    models = [model for part in FILLED for model in dictionary.tables(part)]
    return {str(model.Config.name): frozenset(columns(model)) for model in models}


def read_summaries(warehouse: Path, queries: dict[str, str]) -> dict[str, pl.DataFrame]:
    """Run named queries of our own."""
    with reader(warehouse) as connection:
        return {name: connection.sql(query).pl() for name, query in queries.items()}
