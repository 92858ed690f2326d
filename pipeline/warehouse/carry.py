"""What a measure rests on, as hashes: one whose inputs did not change is taken over, not computed.

Two hashes a measure. *inputs*: the tables that its queries name, the text of the queries, the
settings, the code and, where a query reads it, the day. *counts*: the rows that the queries gave.
Equal inputs: nothing is counted. Equal counts: nothing is inferred. Rows are hashed in no order,
by sums of whole numbers, so that threads change nothing.
"""

import hashlib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import duckdb
import polars as pl

from pipeline.measures.measure import Measure, query_text
from pipeline.warehouse.connect import create, quoted

# A change of any of these may change an inference.
PACKAGES = ("pipeline.measures", "pipeline.statistics", "schemas")
FACT_PACKAGES = ("pipeline.warehouse", "pipeline.statistics", "schemas")
LIBRARIES = ("duckdb", "polars", "numpy", "scipy", "statsmodels", "pandas")
# Which run wrote a row is no input.
OF_THE_RUN = frozenset({"run_id", "since_run"})
BEFORE = "published_before"
COMMENT = re.compile(r"--[^\n]*")
FILLED = re.compile(r"\bUPDATE\s+(\w+)\s+SET\b(.*?)\nFROM\b", re.DOTALL)
ASSIGNED = re.compile(r"^\s+(\w+) = ", re.MULTILINE)


@dataclass
class Carried:
    """What a ledger keeps of one measure: hashes, and the run that computed it."""

    inputs: str = ""
    counts: str = ""
    run_id: str = ""


@dataclass
class Tables:
    """Hashes of the tables of a warehouse being built, each made once until it is written again.

    Attributes:
        known: hash by table; of a table that a measure has yet to fill, under another name.
        unfilled: columns, by table, that a measure has yet to fill in this run. They are left
            out till then: a copy of the published warehouse holds those of the run before.
    """

    known: dict[str, str] = field(default_factory=dict)
    unfilled: dict[str, frozenset[str]] = field(default_factory=dict)

    def of(self, connection: duckdb.DuckDBPyConnection, table: str) -> str:
        """Return a table's hash."""
        name = f"{table}, not filled" if table in self.unfilled else table
        if name not in self.known:
            left_out = OF_THE_RUN | self.unfilled.get(table, frozenset())
            self.known[name] = digest_of(connection, table, left_out)
        return self.known[name]

    def written(self, table: str, filled: Iterable[str], *, is_same: bool) -> None:
        """Take note that a measure wrote its table and filled columns of others.

        Args:
            table: the measure's table.
            filled: tables of which it fills columns.
            is_same: the columns hold what they held in the published warehouse.
        """
        self.known.pop(table, None)
        for name in filled:
            self.unfilled.pop(name, None)
            if not is_same:
                self.known.pop(name, None)


def digest_of(
    connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str] = ()
) -> str:
    """Return a hash of a table's rows, in whatever order they lie."""
    described = connection.execute(f'DESCRIBE "{table}"').fetchall()
    names = sorted(name for name, *_ in described if name not in left_out)
    listed = ", ".join(f'"{name}"' for name in names)
    counted = connection.execute(
        f'SELECT count(*), coalesce(sum(hash({listed})), 0)::VARCHAR FROM "{table}"'
    ).fetchall()
    return _short(repr((names, counted)))


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
    return _short(repr((told, settings_digest, code_digest())))


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
    used = (*measure.views, *measure.temporary, *measure.queries)
    text = COMMENT.sub("", "\n".join(query_text(name) for name in used))
    words = set(re.findall(r"\w+", text))
    there = connection.execute("SELECT table_name FROM duckdb_tables() WHERE NOT temporary")
    # A word that is both a table and a column counts as the table: too much is hashed, never less.
    named = sorted({name for (name,) in there.fetchall()} & words - set(later))
    told = [(name, tables.of(connection, name)) for name in named]
    day = as_of.isoformat() if "as_of" in words else ""
    return _short(repr((measure.name, text, told, settings_digest, code_digest(), day)))


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
        connection.execute(f"ATTACH {quoted(str(published))} AS {BEFORE} (READ_ONLY)")
        try:
            create(connection, measure.schema)
            connection.execute(f'INSERT INTO "{name}" BY NAME FROM {BEFORE}."{name}"')
        except (duckdb.CatalogException, duckdb.BinderException):
            return None
        finally:
            connection.execute(f"DETACH {BEFORE}")
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


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]
