"""What a measure rests on, as hashes: one whose inputs did not change is taken over, not computed.

Two hashes a measure. *inputs*: the tables that its queries name, the text of the queries, the
settings, the code and, where a query reads it, the day. *counts*: the rows that the queries gave.
Equal inputs: nothing is counted. Equal counts: nothing is inferred.
"""

import hashlib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import duckdb
import polars as pl

from pipeline.measures.measure import Measure, query_text
from pipeline.warehouse.connect import BEFORE, attach, create
from pipeline.warehouse.table_sums import Tables, digest_of, short

# A change of any of these may change an inference.
PACKAGES = ("pipeline.measures", "pipeline.statistics", "schemas")
FACT_PACKAGES = ("pipeline.warehouse", "pipeline.statistics", "schemas")
LIBRARIES = ("duckdb", "polars", "numpy", "scipy", "statsmodels", "pandas")
COMMENT = re.compile(r"--[^\n]*")
LITERAL = re.compile(r"'[^']*'")
FILLED = re.compile(r"\bUPDATE\s+(\w+)\s+SET\b(.*?)\nFROM\b", re.DOTALL)
ASSIGNED = re.compile(r"^\s+(\w+) = ", re.MULTILINE)


@dataclass
class Carried:
    """What a ledger keeps of one measure: hashes, and the run that computed it."""

    inputs: str = ""
    counts: str = ""
    run_id: str = ""


def counts_digest(
    connection: duckdb.DuckDBPyConnection,
    counts: Mapping[str, pl.DataFrame],
    settings_digest: str,
) -> str:
    """Return the hash of all that an inference rests on: counts in any order, settings, code."""
    told = []
    for name, frame in sorted(counts.items()):
        connection.register("counted_rows", frame)
        told.append((name, digest_of(connection, "counted_rows")))
        connection.unregister("counted_rows")
    return short((told, settings_digest, code_digest()))


def filled_columns(measures: Iterable[Measure]) -> dict[str, frozenset[str]]:
    """Return the columns of facts that measures fill, by table."""
    found: dict[str, frozenset[str]] = {}
    for name in (query for measure in measures for query in measure.fills):
        for table, assigned in FILLED.findall(COMMENT.sub("", query_text(name))):
            found[table] = found.get(table, frozenset()) | set(ASSIGNED.findall(assigned))
    return found


def inputs_digest(
    connection: duckdb.DuckDBPyConnection,
    measure: Measure,
    tables: Tables,
    later: Collection[str],
    settings_digest: str,
    as_of: date,
) -> str:
    """Return the hash of all that a measure rests on.

    Args:
        connection: to the warehouse being built.
        measure: the measure.
        tables: the hashes known so far; takes those made here.
        later: measures that run after this one, and itself: a table of theirs is none of its
            inputs, though a copy of the published warehouse holds it.
        settings_digest: of the settings in force.
        as_of: the run's day.
    """
    used = (*measure.group_wide, *measure.views, *measure.temporary, *measure.queries)
    text = code_of(used)
    named = tables_named(connection, text, later)
    told = [(name, tables.of(connection, name)) for name in named]
    day = as_of.isoformat() if "as_of" in text else ""
    return short((measure.name, text, told, settings_digest, code_digest(), day))


def code_of(names: Iterable[str]) -> str:
    """Return the texts of SQL resources without their comments."""
    return COMMENT.sub("", "\n".join(query_text(name) for name in names))


def steps_of(
    measure: Measure, names: Iterable[str], *, is_group_wide_too: bool = False
) -> list[str]:
    """Return what of a measure's group-wide tables, views and temporary tables queries rest on.

    What a group-wide table itself rests on is not among these, unless asked for: its rows stand
    for it.
    """
    there = (*measure.group_wide, *measure.views, *measure.temporary)
    found: dict[str, None] = {}
    wanted = [*names]
    while wanted:
        current = wanted.pop()
        words = set(re.findall(r"\w+", code_of([current])))
        for one in there:
            if one in words and one not in found and one != current:
                found[one] = None
                if is_group_wide_too or one not in measure.group_wide:
                    wanted.append(one)
    return list(found)


def tables_named(
    connection: duckdb.DuckDBPyConnection, text: str, later: Collection[str]
) -> list[str]:
    """Return the tables of the warehouse being built that a query's text names, in order.

    A word that is both a table and a column counts as the table: too much is hashed, never less.
    """
    there = connection.execute(
        "SELECT table_name FROM duckdb_tables()"
        " WHERE NOT temporary AND database_name = current_database()"
    ).fetchall()
    words = set(re.findall(r"\w+", LITERAL.sub("", text)))
    return sorted({name for (name,) in there} & words - set(later))


def take_over(
    connection: duckdb.DuckDBPyConnection, published: Path, measure: Measure, *, is_copy: bool
) -> int | None:
    """Give the warehouse being built a measure's table as it was published.

    Args:
        connection: to the warehouse being built.
        published: the published warehouse, whole and of this contract.
        measure: the measure.
        is_copy: the warehouse being built is a copy of it, and holds the table.

    Returns:
        The table's rows; None where the published warehouse has no such table.
    """
    name = measure.schema.Config.name
    if not is_copy:
        attach(connection, published)
        try:
            create(connection, measure.schema)
            connection.execute(f'INSERT INTO "{name}" BY NAME FROM {BEFORE}."{name}"')
        except (duckdb.CatalogException, duckdb.BinderException):
            return None
    try:
        counted = connection.execute(f'SELECT count(*) FROM "{name}"').fetchall()
    except duckdb.CatalogException:
        return None
    return int(counted[0][0])


def code_digest() -> str:
    """Return a hash of the code and the libraries that counts and inferences rest on."""
    return _code_digest(PACKAGES)


def facts_digest() -> str:
    """Return a hash of the code and the libraries that facts are made with."""
    return _code_digest(FACT_PACKAGES)


@cache
def _code_digest(packages: tuple[str, ...]) -> str:
    digest = hashlib.sha256()
    for package in packages:
        _add(digest, files(package), package)
    for library in LIBRARIES:
        digest.update(f"{library} {version(library)}\n".encode())
    return digest.hexdigest()[:16]


def _add(digest: "hashlib._Hash", folder: Traversable, name: str) -> None:
    for item in sorted(folder.iterdir(), key=lambda one: one.name):
        if item.is_dir() and item.name != "__pycache__":
            _add(digest, item, f"{name}/{item.name}")
        elif item.is_file() and not item.name.endswith(".pyc"):
            digest.update(f"{name}/{item.name}\n".encode())
            digest.update(item.read_bytes())
