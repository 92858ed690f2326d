"""What a measure rests on, as hashes: one whose inputs did not change is taken over, not computed.

Two hashes a measure. *inputs*: the tables that its queries name, the text of the queries, the
settings, the code and, where a query reads it, the day. *counts*: the rows that the queries gave.
Equal inputs: nothing is counted. Equal counts: nothing is inferred. Rows are hashed in no order,
by sums of whole numbers, so that threads change nothing.
"""

import hashlib
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache, cached_property
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

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
LITERAL = re.compile(r"'[^']*'")
FILLED = re.compile(r"\bUPDATE\s+(\w+)\s+SET\b(.*?)\nFROM\b", re.DOTALL)
ASSIGNED = re.compile(r"^\s+(\w+) = ", re.MULTILINE)


@dataclass
class Carried:
    """What a ledger keeps of one measure: hashes, and the run that computed it."""

    inputs: str = ""
    counts: str = ""
    run_id: str = ""


@dataclass(frozen=True)
class Sums:
    """Rows of one table by site, as whole numbers that add up.

    Attributes:
        columns: the columns hashed, by name.
        by_site: how many rows and the sum of their hashes, by site; "" where a row names none.
    """

    columns: tuple[str, ...]
    by_site: Mapping[str, tuple[int, int]]

    @property
    def has_sites(self) -> bool:
        """Tell whether rows name their site."""
        return "site_id" in self.columns

    @cached_property
    def digest(self) -> str:
        """Hash of all rows, in whatever order they lie."""
        rows, hashes = (sum(one[at] for one in self.by_site.values()) for at in (0, 1))
        return _short(repr((self.columns, rows, hashes)))

    def told(self) -> list[Any]:
        """Return the sums as a ledger keeps them."""
        sites = {site: f"{n}:{hashes:x}" for site, (n, hashes) in self.by_site.items()}
        return [list(self.columns), sites]

    @classmethod
    def read(cls, told: Any) -> "Sums | None":
        """Return the sums that a ledger kept; None where it kept something else."""
        if not isinstance(told, list):
            return None
        columns, sites = told
        pairs = {site: text.split(":") for site, text in sites.items()}
        return cls(tuple(columns), {site: (int(n), int(h, 16)) for site, (n, h) in pairs.items()})


@dataclass
class Tables:
    """Hashes of the tables of a warehouse being built, each made once until it is written again.

    Attributes:
        known: sums by table; of a table that a measure has yet to fill, under another name.
        unfilled: columns, by table, that a measure has yet to fill in this run. They are left
            out till then: a copy of the published warehouse holds those of the run before.
        earlier: the sums of the published warehouse's tables, under the same names.
        touched: sites whose rows may differ from those published, by table; a table that is not
            among these is hashed whole.
    """

    known: dict[str, Sums] = field(default_factory=dict)
    unfilled: dict[str, frozenset[str]] = field(default_factory=dict)
    earlier: Mapping[str, Sums] = field(default_factory=dict)
    touched: dict[str, frozenset[str]] = field(default_factory=dict)

    def of(self, connection: duckdb.DuckDBPyConnection, table: str) -> str:
        """Return a table's hash."""
        return self.sums(connection, table).digest

    def name_of(self, table: str) -> str:
        """Return the name under which a table's sums are known now."""
        return f"{table}, not filled" if table in self.unfilled else table

    def sums(self, connection: duckdb.DuckDBPyConnection, table: str) -> Sums:
        """Return a table's rows as sums by site; of sites that were not touched as published."""
        name = self.name_of(table)
        if name not in self.known:
            left_out = OF_THE_RUN | self.unfilled.get(table, frozenset())
            columns, earlier = _columns(connection, table, left_out), self.earlier.get(name)
            touched = self.touched.get(table)
            if earlier is None or earlier.columns != columns or not earlier.has_sites:
                touched = None
            by_site = _by_site(connection, table, columns, touched)
            if touched is not None and earlier is not None:
                kept = {s: one for s, one in earlier.by_site.items() if s not in touched}
                by_site = kept | by_site
            self.known[name] = Sums(columns, by_site)
        return self.known[name]

    def written(
        self, table: str, filled: Iterable[str], *, sites: frozenset[str] | None = None
    ) -> None:
        """Take note that a measure wrote its table and filled columns of others.

        Args:
            table: the measure's table.
            filled: tables of which it fills columns.
            sites: those whose filled columns may differ from the published; None: any.
        """
        self.known.pop(table, None)
        for name in filled:
            self.unfilled.pop(name, None)
            if sites is None:
                self.known.pop(name, None)
                self.touched.pop(name, None)
            elif sites:
                self.known.pop(name, None)
                self.touched[name] = self.touched.get(name, frozenset()) | sites


def digest_of(
    connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str] = ()
) -> str:
    """Return a hash of a table's rows, in whatever order they lie."""
    columns = _columns(connection, table, left_out)
    return Sums(columns, _by_site(connection, table, columns, None)).digest


def _columns(
    connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str]
) -> tuple[str, ...]:
    described = connection.execute(f'DESCRIBE "{table}"').fetchall()
    return tuple(sorted(name for name, *_ in described if name not in left_out))


def _by_site(
    connection: duckdb.DuckDBPyConnection,
    table: str,
    columns: Sequence[str],
    sites: Collection[str] | None,
) -> dict[str, tuple[int, int]]:
    listed = ", ".join(f'"{name}"' for name in columns)
    site = "coalesce(site_id::VARCHAR, '')" if "site_id" in columns else "''"
    chosen = "" if sites is None else f"WHERE {of_sites(sites)}"
    rows = connection.execute(
        f"SELECT {site} AS site, count(*), sum(hash({listed}))::VARCHAR"
        f' FROM "{table}" {chosen} GROUP BY ALL'
    ).fetchall()
    return {site: (n, int(hashes)) for site, n, hashes in rows if n}


def of_sites(sites: Collection[str]) -> str:
    """Return the condition that a row is of one of these sites, "" for one that names none."""
    named = ", ".join(quoted(site) for site in sorted(sites) if site)
    told = [f"site_id IN ({named})"] if named else []
    if "" in sites:
        told.append("site_id IS NULL")
    return f"({' OR '.join(told)})" if told else "false"


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
    used = (*measure.group_wide, *measure.views, *measure.temporary, *measure.queries)
    text = code_of(used)
    named = tables_named(connection, text, later)
    told = [(name, tables.of(connection, name)) for name in named]
    day = as_of.isoformat() if "as_of" in text else ""
    return _short(repr((measure.name, text, told, settings_digest, code_digest(), day)))


def code_of(names: Iterable[str]) -> str:
    """Return the texts of SQL resources without their comments."""
    return COMMENT.sub("", "\n".join(query_text(name) for name in names))


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


def attach(connection: duckdb.DuckDBPyConnection, published: Path) -> None:
    """Make the published warehouse readable beside the one being built, as `BEFORE`."""
    connection.execute(f"ATTACH IF NOT EXISTS {quoted(str(published))} AS {BEFORE} (READ_ONLY)")


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


def short(told: object) -> str:
    """Return a short hash of what its `repr` tells."""
    return _short(repr(told))


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]
