"""Read published tables as frames, for pages and commands."""

from collections.abc import Sequence
from pathlib import Path

import polars as pl

from pipeline.warehouse.connect import reader


def read_tables(warehouse: Path, names: Sequence[str]) -> dict[str, pl.DataFrame]:
    """Read tables whole, in a fixed order of rows.

    Raises:
        StoreError: where the warehouse is missing, damaged or lacks a table.
    """
    with reader(warehouse) as connection:
        return {name: connection.sql(f'SELECT * FROM "{name}" ORDER BY ALL').pl() for name in names}


def read_summaries(warehouse: Path, queries: dict[str, str]) -> dict[str, pl.DataFrame]:
    """Run named queries of our own."""
    with reader(warehouse) as connection:
        return {name: connection.sql(query).pl() for name, query in queries.items()}
