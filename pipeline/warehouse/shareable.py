"""A database of measures for passing on: no row of an aid, a session or a file."""

from collections.abc import Mapping
from pathlib import Path

import duckdb
import polars as pl

from pipeline.warehouse.connect import columns
from schemas import macros
from schemas.declare import Table
from schemas.dictionary import comments

# Where a row was read from says nothing to others.
ORIGIN = ("file_id", "line", "part_of_line")


def write_measures(
    file: Path,
    frames: Mapping[str, pl.DataFrame],
    schemas: Mapping[str, type[Table]],
    smallest_cell: int,
) -> None:
    """Write tables, as they may be shared, with their comments and the macros.

    Args:
        file: the database, not there yet.
        frames: tables by name, already passed through disclosure.
        schemas: their declarations by name.
        smallest_cell: the group's setting.
    """
    connection = duckdb.connect(str(file))
    try:
        for name, frame in sorted(frames.items()):
            types = {c: t for c, t in columns(schemas[name]).items() if c not in ORIGIN}
            listed = ", ".join(f'"{column}" {kind}' for column, kind in types.items())
            connection.execute(f'CREATE TABLE "{name}" ({listed})')
            connection.register("given", frame)
            chosen = ", ".join(f'"{column}"' for column in types)
            connection.execute(f'INSERT INTO "{name}" ({chosen}) SELECT {chosen} FROM given')
            connection.unregister("given")
            for statement in comments(schemas[name]):
                if not any(f'."{column}" ' in statement for column in ORIGIN):
                    connection.execute(statement)
        for statement in macros.statements(smallest_cell):
            connection.execute(statement)
        connection.execute("CHECKPOINT")
    finally:
        connection.close()
