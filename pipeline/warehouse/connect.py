"""Connections to a warehouse file, and what is common to all its tables."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from pipeline.errors import StoreError, first_line
from pipeline.settings import Settings
from schemas.declare import Table
from schemas.dictionary import SQL_TYPES, comments

MEMORY_LIMIT = "1500MB"
# How many runs of part-full row groups a checkpoint may join. Each is read and written anew: after
# rows deleted here and there that is most of the table. The next whole build takes back their room.
JOINED_AT_ONCE = 0
# The published warehouse, attached to the one being built.
BEFORE = "published_before"
UNREADABLE = (duckdb.IOException, duckdb.SerializationException, duckdb.InternalException)
# What duckdb raises where a disk is full, a file may not grow or a part cannot be read.
UNWRITABLE = (
    duckdb.IOException,
    duckdb.InvalidInputException,
    duckdb.TransactionException,
    duckdb.FatalException,
)


@contextmanager
def writer(target: Path, *, is_whole: bool = False) -> Iterator[duckdb.DuckDBPyConnection]:
    """Connect to a warehouse that is being built; data spill beside it until it is closed.

    Args:
        target: the file.
        is_whole: all is being written, so rows are stored once, as it is closed, and none moved.

    Raises:
        StoreError: where the file is no sound warehouse, or the disk is full.
    """
    spill = target.with_suffix(".spill")
    config: dict[str, Any] = {
        "memory_limit": MEMORY_LIMIT,
        "threads": os.cpu_count() or 1,
        "preserve_insertion_order": False,
        "temp_directory": str(spill),
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "max_vacuum_tasks": JOINED_AT_ONCE,
    }
    if is_whole:
        config["wal_autocheckpoint"] = "1TB"
    try:
        connection = duckdb.connect(str(target), config=config)
    except duckdb.Error as error:
        raise damaged(target, error) from error
    try:
        connection.execute("SET TimeZone = 'UTC'")
        yield connection
    except duckdb.OutOfMemoryException as error:
        raise StoreError(
            "the warehouse could not be built: out of memory, or no space to spill to",
            found=first_line(error),
            done="The published warehouse was not changed.",
            todo="Make room on the store's disk and run the command again.",
        ) from error
    except UNWRITABLE as error:
        raise StoreError(
            "the warehouse could not be written, or a part of the store is damaged",
            found=first_line(error),
            done="The published warehouse was not changed.",
            todo="Make room on the store's disk; if a part is named, run drytally rebuild"
            " --rescreen EXPORTS.",
        ) from error
    finally:
        connection.close()


def log_of(warehouse: Path) -> Path:
    """Return where the write-ahead log of a warehouse lies, if it has one."""
    return warehouse.with_name(warehouse.name + ".wal")


def discard(target: Path) -> None:
    """Remove a warehouse that is being built, to begin anew."""
    for path in (target, log_of(target)):
        path.unlink(missing_ok=True)


@contextmanager
def reader(warehouse: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a published warehouse read-only.

    Raises:
        StoreError: where it is missing, damaged, or has a leftover write-ahead log.
    """
    if not warehouse.exists():
        raise StoreError(
            f"there is no warehouse at {warehouse.name}",
            todo="Run drytally refresh EXPORTS --store DIR.",
        )
    try:
        connection = duckdb.connect(
            str(warehouse), read_only=True, config={"memory_limit": MEMORY_LIMIT}
        )
    except duckdb.Error as error:
        raise damaged(warehouse, error) from error
    try:
        connection.execute("SET TimeZone = 'UTC'")
        yield connection
    except duckdb.CatalogException as error:
        raise StoreError(
            "the warehouse lacks a table, view or column: it comes from another version",
            found=first_line(error),
            todo="Run drytally rebuild --store DIR.",
        ) from error
    except duckdb.Error as error:
        # A block that does not match its checksum is told by the plain class.
        if type(error) is duckdb.Error or isinstance(error, UNREADABLE):
            raise damaged(warehouse, error) from error
        raise
    finally:
        connection.close()


def attach(connection: duckdb.DuckDBPyConnection, published: Path) -> None:
    """Make the published warehouse readable beside the one being built, as `BEFORE`."""
    connection.execute(f"ATTACH IF NOT EXISTS {quoted(str(published))} AS {BEFORE} (READ_ONLY)")


def set_variables(connection: duckdb.DuckDBPyConnection, as_of: date, settings: Settings) -> None:
    """Make the run's day and every number among the settings readable in SQL.

    `getvariable('as_of')`; a setting by its dotted name with underscores, as in
    `getvariable('tolerances_hfa_gain_db')`; one that is not set is null.
    """
    connection.execute(f"SET VARIABLE as_of = DATE '{as_of.isoformat()}'")
    for name, value in settings.flat().items():
        if value is None or isinstance(value, int | float):
            number = "NULL::DOUBLE" if value is None else value
            connection.execute(f"SET VARIABLE {name.replace('.', '_')} = {number}")


def damaged(warehouse: Path, error: duckdb.Error) -> StoreError:
    """Return the error for a warehouse that cannot be read."""
    return StoreError(
        f"the warehouse {warehouse.name} is damaged or was written by another version",
        found=first_line(error),
        done="Nothing was changed.",
        todo="Run drytally rebuild --store DIR to build it again from the store's parts.",
    )


def sql(name: str, **parts: str) -> str:
    """Return a query of this package by name, its placeholders filled."""
    text = (resources.files("pipeline.warehouse.sql") / f"{name}.sql").read_text(encoding="utf-8")
    return text.format(**parts) if parts else text


def columns(model: type[Table]) -> dict[str, str]:
    """Return {column: DuckDB type} of a declared table, in declared order."""
    declared = model.to_schema().columns
    return {name: SQL_TYPES[str(pl_type(column))] for name, column in declared.items()}


def pl_type(column: Any) -> pl.DataType | type[pl.DataType]:
    """Return the polars type of a declared column."""
    return column.dtype.type  # type: ignore[no-any-return]


def quoted(text: str) -> str:
    """Return text as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def create(connection: duckdb.DuckDBPyConnection, model: type[Table]) -> None:
    """Create a declared table, empty, with its comments; an older one is replaced.

    In one transaction: each commit waits for the disk, and a table has dozens of comments.
    """
    name = model.Config.name
    listed = ", ".join(f'"{column}" {kind}' for column, kind in columns(model).items())
    statements = [f'CREATE OR REPLACE TABLE "{name}" ({listed})', *comments(model)]
    connection.execute(";\n".join(["BEGIN", *statements, "COMMIT"]))


def insert(connection: duckdb.DuckDBPyConnection, model: type[Table], query: str) -> None:
    """Insert a query's rows by name; every declared column must be there, others are left."""
    listed = ", ".join(f'"{column}"' for column in columns(model))
    connection.execute(
        f'INSERT INTO "{model.Config.name}" ({listed}) SELECT {listed} FROM ({query})'
    )


@contextmanager
def joined_as_written(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Join tables in the order in which queries name them, each held as it is joined to.

    Estimates take a table of a hundred columns for the smaller side, and hold it more than once.
    """
    connection.execute("SET disabled_optimizers = 'join_order,build_side_probe_side'")
    try:
        yield
    finally:
        connection.execute("RESET disabled_optimizers")
