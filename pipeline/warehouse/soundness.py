"""Prove a warehouse file sound: read what was written since it was last proven."""

import os
from collections.abc import Collection
from pathlib import Path

import duckdb

from pipeline.warehouse.connect import damaged, reader

# DuckDB's file: three headers, then blocks of one size, each with its checksum in front.
HEADERS_BYTES, CHECKSUM_BYTES = 3 * 4096, 8
SIZES = "SELECT block_size, total_blocks FROM pragma_database_size()"
GROUPS = """
SELECT
    row_group_id,
    sum("count") FILTER (WHERE column_id = 0 AND segment_type <> 'VALIDITY')::BIGINT AS rows,
    bool_or(list_has_any(list_append(additional_block_ids, block_id), $written::BIGINT[]))
        AS is_written
FROM pragma_storage_info($name)
GROUP BY row_group_id ORDER BY row_group_id
"""


def scan(warehouse: Path, left_out: Collection[str] = (), copied_from: Path | None = None) -> None:
    """Read every value of every table but those left out; opening alone finds no damage.

    Of a proven copy, rows whose blocks lie in the file it was copied from with the same checksums
    were read by the run that published that file: only row groups that hold a block written since
    are read, and which rows are deleted.

    Args:
        warehouse: the file, closed.
        left_out: tables that are not read.
        copied_from: the sound file that it began as a proven copy of; None: everything is read.

    Raises:
        StoreError: where the file is damaged.
    """
    with reader(warehouse) as connection:
        try:
            written = None
            if copied_from is not None:
                written = written_blocks(connection, warehouse, copied_from)
            names = connection.execute(
                "SELECT table_name FROM duckdb_tables() ORDER BY table_name"
            ).fetchall()
            for name in (name for (name,) in names if name not in left_out):
                if written is None:
                    _read(connection, name)
                    continue
                connection.execute(f'SELECT sum(rowid) FROM "{name}"').fetchall()
                for first, last in written_rows(connection, name, written):
                    _read(connection, name, f"WHERE rowid BETWEEN {first} AND {last}")
        except duckdb.Error as error:
            raise damaged(warehouse, error) from error


def _read(connection: duckdb.DuckDBPyConnection, table: str, some: str = "") -> None:
    connection.execute(f'SELECT bit_xor(hash(COLUMNS(*))) FROM "{table}" {some}').fetchall()


def written_blocks(
    connection: duckdb.DuckDBPyConnection, warehouse: Path, copied_from: Path
) -> list[int] | None:
    """Return the blocks of a file that are not, by number and checksum, those of another.

    Args:
        connection: to the warehouse.
        warehouse: the file.
        copied_from: the other.

    Returns:
        Numbers of blocks; None where the file is not laid out as this reads it.
    """
    [(size, count)] = connection.execute(SIZES).fetchall()
    if warehouse.stat().st_size != HEADERS_BYTES + size * count:
        return None
    written = []
    with warehouse.open("rb") as now, copied_from.open("rb") as before:
        for number in range(count):
            at = HEADERS_BYTES + number * size
            own = os.pread(now.fileno(), CHECKSUM_BYTES, at)
            if own != os.pread(before.fileno(), CHECKSUM_BYTES, at):
                written.append(number)
    return written


def written_rows(
    connection: duckdb.DuckDBPyConnection, table: str, written: Collection[int]
) -> list[tuple[int, int]]:
    """Return first and last rowid of each row group of a table that holds one of some blocks."""
    groups = connection.execute(GROUPS, {"name": table, "written": list(written)}).fetchall()
    found, start = [], 0
    for _, rows, is_written in groups:
        if is_written:
            found.append((start, start + rows - 1))
        start += rows
    return found
