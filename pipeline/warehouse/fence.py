"""Run an analyst's query behind a fence: read-only, no files, no network, bounded.

Imports duckdb and nothing heavier, so that a small answer comes at once.
"""

import os
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import QueryError, StoreError, first_line

ALLOWED = "SELECT, FROM, WITH, VALUES, DESCRIBE, SHOW, SUMMARIZE, or EXPLAIN of one of them"
# What may stand between EXPLAIN and the statement that it explains.
EXPLAINING = re.compile(r"(?:analyze|verbose)\b", re.IGNORECASE)
OPTIONS = re.compile(r"\(\s*(?:analyze|verbose|format|codegen)\b", re.IGNORECASE)
MOST_MEMORY_GB = 1
MOST_THREADS = 4
FENCE = (
    "SET enable_external_access = false",
    "SET python_enable_replacements = false",
    "SET autoinstall_known_extensions = false",
    "SET autoload_known_extensions = false",
    "SET allow_persistent_secrets = false",
    "SET allow_community_extensions = false",
    "SET allow_extension_repositories = 'forbidden'",
    f"SET memory_limit = '{MOST_MEMORY_GB}GB'",
    f"SET threads = {min(MOST_THREADS, os.cpu_count() or 1)}",
    "SET max_temp_directory_size = '0KiB'",
    "SET enable_progress_bar = false",
    "SET TimeZone = 'UTC'",
    "SET lock_configuration = true",
)


LOOK_UP = "drytally tables lists the tables, drytally tables NAME the columns of one."


@dataclass(frozen=True)
class Answer:
    """A query's answer: column names, DuckDB types, rows as Python values."""

    names: list[str]
    types: list[str]
    rows: list[tuple[Any, ...]]
    is_cut: bool


def open_fenced(warehouse: Path) -> duckdb.DuckDBPyConnection:
    """Open a published warehouse read-only behind the fence.

    Raises:
        StoreError: where it is missing or damaged.
    """
    if not warehouse.exists():
        raise StoreError(
            "there is no warehouse in the store", todo="Run drytally refresh EXPORTS --store DIR."
        )
    try:
        connection = duckdb.connect(str(warehouse), read_only=True)
        for statement in FENCE:
            connection.execute(statement)
    except duckdb.Error as error:
        raise StoreError(
            "the warehouse is damaged or was written by another version",
            found=first_line(error),
            todo="Run drytally rebuild --store DIR.",
        ) from error
    return connection


def fenced_query(
    warehouse: Path,
    sql: str,
    *,
    timeout_s: float = 60.0,
    most_rows: int = 1_000_000,
    parameters: Sequence[str] = (),
) -> Answer:
    """Answer one reading statement.

    Args:
        warehouse: the published warehouse.
        sql: one SELECT, DESCRIBE, SHOW, SUMMARIZE or EXPLAIN.
        timeout_s: seconds after which the query is stopped.
        most_rows: rows after which the answer is cut, which `is_cut` says.
        parameters: values of ? placeholders.

    Raises:
        QueryError: where the statement is refused, fails, runs too long or takes too much memory.
        StoreError: where the warehouse cannot be opened.
    """
    connection = open_fenced(warehouse)
    try:
        statement = one_reading_statement(connection, sql)
        return _answer(connection, statement, timeout_s, most_rows, parameters)
    finally:
        connection.close()


def one_reading_statement(connection: duckdb.DuckDBPyConnection, sql: str) -> duckdb.Statement:
    """Parse SQL that may be run: one statement, of a kind that reads; EXPLAIN by what it explains.

    Raises:
        QueryError: where it is anything else; nothing was run.
    """
    statement = _one_statement(connection, sql)
    kind = _kind(statement)
    explains = kind == duckdb.StatementType.EXPLAIN
    if explains:
        kind = _explained(connection, sql)
    if kind == duckdb.StatementType.MULTI:
        raise QueryError(
            "PIVOT must name the values that become columns",
            expected="PIVOT ... ON column IN (value, ...) USING ...",
            done="Nothing was run.",
        )
    if kind != duckdb.StatementType.SELECT:
        named = kind.name if kind is not None else "something else"
        raise QueryError(
            "only reading statements are allowed",
            found=f"EXPLAIN of {named}" if explains else named,
            expected=ALLOWED,
            done="Nothing was run.",
        )
    return statement


def _one_statement(connection: duckdb.DuckDBPyConnection, sql: str) -> duckdb.Statement:
    try:
        statements = connection.extract_statements(sql)
    except (duckdb.Error, UnicodeError) as error:
        raise QueryError("the query cannot be read", found=first_line(error)) from error
    if len(statements) != 1:
        raise QueryError(
            "one statement at a time", found=f"{len(statements)} statements", expected="one SELECT"
        )
    return statements[0]


def _explained(connection: duckdb.DuckDBPyConnection, sql: str) -> duckdb.StatementType | None:
    """Return the kind of the statement that an EXPLAIN explains, None where it cannot be told."""
    data = sql.encode()
    starts = [at for at, kind in duckdb.tokenize(sql) if kind != duckdb.token_type.comment]
    rest = [data[at:].decode() for at in starts[1:]]
    while rest and EXPLAINING.match(rest[0]):
        rest.pop(0)
    if rest and OPTIONS.match(rest[0]):
        while rest and not rest.pop(0).startswith(")"):
            pass
    try:
        [statement] = connection.extract_statements(rest[0] if rest else "")
    except (duckdb.Error, ValueError):
        return None
    return _kind(statement)


def _kind(statement: duckdb.Statement) -> duckdb.StatementType | None:
    """Return a statement's kind, None for one that the engine parses and does not name."""
    try:
        return statement.type
    except ValueError:
        return None


def _is_name(error: duckdb.Error) -> bool:
    return isinstance(error, duckdb.BinderException | duckdb.CatalogException)


def _told(error: duckdb.Error) -> str:
    """Return the first line, and for a name that is not there the names that are like it."""
    lines = [line.strip() for line in str(error).splitlines()]
    near = [line for line in lines[1:] if line.startswith(("Candidate bindings", "Did you mean"))]
    if not _is_name(error) or not near:
        return first_line(error)
    names = re.findall(r'"(\w+)"', near[0])
    return f"{first_line(error)} Near it: {', '.join(sorted(names))}."


def failed(error: duckdb.Error) -> QueryError:
    """Return what a failed query tells its reader."""
    if isinstance(error, duckdb.OutOfMemoryException):
        return QueryError(
            f"the query needs more memory than the {MOST_MEMORY_GB} GB it may use",
            done="Nothing was changed.",
            todo="Filter or count the rows before they are joined, sorted or listed.",
        )
    return QueryError(
        "the query failed", found=_told(error), todo=LOOK_UP if _is_name(error) else None
    )


def _answer(
    connection: duckdb.DuckDBPyConnection,
    statement: duckdb.Statement,
    timeout_s: float,
    most_rows: int,
    parameters: Sequence[str],
) -> Answer:
    is_late = threading.Event()

    def stop() -> None:
        is_late.set()
        connection.interrupt()

    clock = threading.Timer(timeout_s, stop)
    clock.start()
    try:
        result = connection.execute(statement, list(parameters))
        described = result.description or []
        rows = result.fetchmany(most_rows + 1)
    except duckdb.Error as error:
        if is_late.is_set():
            raise QueryError(
                f"the query was stopped after {timeout_s:g} seconds",
                todo="Ask for less, or give a longer --timeout.",
            ) from error
        raise failed(error) from error
    finally:
        clock.cancel()
    names = [column[0] for column in described]
    types = [str(column[1]) for column in described]
    return Answer(names, types, rows[:most_rows], len(rows) > most_rows)
