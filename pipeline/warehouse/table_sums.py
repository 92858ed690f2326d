"""Hashes of the tables of a warehouse: sums over rows, by site, of whole numbers that add up.

Rows are hashed in no order, so that threads change nothing; what a night did not touch keeps the
sums of the published warehouse, and of a site of which it touched some wearers alone, those are
less what these wearers' rows were and more what they are.
"""

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import duckdb

from pipeline.warehouse.connect import BEFORE, quoted
from pipeline.warehouse.touched import Touched
from pipeline.warehouse.wearer_rows import AFTER, BY_WEARER, WearerRows
from schemas.facts.catalogue import FACTS

# Of other tables than facts, and of this one, a query rests on the columns that it names: how many
# rows a quarter holds and the last day of a site move every night.
NARROW_FACTS = frozenset({"site"})
# Which run wrote a row is no input.
OF_THE_RUN = frozenset({"run_id", "since_run"})
BySite = dict[str, tuple[int, int]]


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
        return short((self.columns, rows, hashes))

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
        touched: sites of which any row may differ from those published, by table; a table that is
            not among these is hashed whole.
        wearers: rows of the wearers of other sites that may differ; None: no other row does.
    """

    known: dict[str, Sums] = field(default_factory=dict)
    unfilled: dict[str, frozenset[str]] = field(default_factory=dict)
    earlier: Mapping[str, Sums] = field(default_factory=dict)
    touched: dict[str, frozenset[str]] = field(default_factory=dict)
    wearers: WearerRows | None = None
    _narrow: dict[tuple[str, str, tuple[str, ...]], Sums] = field(default_factory=dict)

    def take(
        self, touched: Touched, facts: Collection[str], changed: frozenset[str], published: Path
    ) -> None:
        """Take note of what a build wrote anew in a copy of the published warehouse.

        Args:
            touched: sites, and wearers of other sites.
            facts: tables that keep the rows of sites that did not change.
            changed: all sites that did.
            published: the published warehouse.
        """
        self.touched = dict.fromkeys(facts, changed) | dict.fromkeys(BY_WEARER, touched.sites)
        if touched.wearers.height:
            self.wearers = WearerRows(touched.wearers, published)

    def of(self, connection: duckdb.DuckDBPyConnection, table: str) -> str:
        """Return a table's hash."""
        return self.sums(connection, table).digest

    def name_of(self, table: str) -> str:
        """Return the name under which a table's sums are known now."""
        return f"{table}, not filled" if table in self.unfilled else table

    def sums(self, connection: duckdb.DuckDBPyConnection, table: str) -> Sums:
        """Return a table's rows as sums by site; of what was not touched as published."""
        name = self.name_of(table)
        if name not in self.known:
            left_out = OF_THE_RUN | self.unfilled.get(table, frozenset())
            columns, earlier = columns_of(connection, table, left_out), self.earlier.get(name)
            touched = self.touched.get(table)
            if earlier is None or earlier.columns != columns or not earlier.has_sites:
                touched = None
            by_site = sums_by_site(connection, f'"{table}"', columns, touched)
            if touched is not None and earlier is not None:
                kept = {s: one for s, one in earlier.by_site.items() if s not in touched}
                by_site = self._moved(connection, table, columns, kept) | by_site
            self.known[name] = Sums(columns, by_site)
        return self.known[name]

    def is_as_published(self, table: str) -> bool:
        """Tell whether no row of a table was written since it was published."""
        written = self.wearers is not None and table in BY_WEARER
        return self.touched.get(table) == frozenset() and not written

    def _moved(
        self, connection: duckdb.DuckDBPyConnection, table: str, columns: Sequence[str],
        kept: BySite,
    ) -> BySite:  # fmt: skip
        """Return the sums of sites less the rows of touched wearers as published, more as built."""
        if self.wearers is None or table not in BY_WEARER:
            return kept
        for source, sign in ((BEFORE, -1), (AFTER, 1)):
            rows = self.wearers.rows(connection, table, source)
            for site, (n, hashes) in sums_by_site(connection, rows, columns, None).items():
                if site not in self.touched[table]:
                    before = kept.get(site, (0, 0))
                    kept[site] = before[0] + sign * n, before[1] + sign * hashes
        return {site: one for site, one in kept.items() if one != (0, 0)}

    def narrow(
        self, connection: duckdb.DuckDBPyConnection, table: str, words: Collection[str],
        catalog: str = "",
    ) -> Sums:  # fmt: skip
        """Return the sums of those columns of a table alone that words name, and its site.

        Args:
            connection: any.
            table: a table that names sites.
            words: the words of a query.
            catalog: the database in which it lies; the one being built where none is named.
        """
        every = columns_of(connection, table, OF_THE_RUN)
        columns = tuple(name for name in every if name in words or name == "site_id")
        key = table, catalog, columns
        if key not in self._narrow:
            lies_in = f'"{catalog}".main."{table}"' if catalog else f'"{table}"'
            self._narrow[key] = Sums(columns, sums_by_site(connection, lies_in, columns, None))
        return self._narrow[key]

    def written(
        self, table: str, filled: Iterable[str], *, sites: frozenset[str] | None = None
    ) -> None:
        """Take note that a measure wrote its table and filled columns of others.

        Args:
            table: the measure's table.
            filled: tables of which it fills columns.
            sites: those whose filled columns may differ from the published, but for touched
                wearers, whose columns are always filled; None: any.
        """
        self.known.pop(table, None)
        for key in [one for one in self._narrow if one[0] == table and not one[1]]:
            del self._narrow[key]
        for name in filled:
            self.unfilled.pop(name, None)
            self.known.pop(name, None)
            if sites is None:
                self.touched.pop(name, None)
            elif name in self.touched:
                self.touched[name] |= sites


def digest_of(
    connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str] = ()
) -> str:
    """Return a hash of a table's rows, in whatever order they lie."""
    columns = columns_of(connection, table, left_out)
    return Sums(columns, sums_by_site(connection, f'"{table}"', columns, None)).digest


def is_narrow(table: str) -> bool:
    """Tell whether a query rests on the columns alone that it names of a table with sites."""
    return table in NARROW_FACTS or table not in FACTS


def columns_of(
    connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str]
) -> tuple[str, ...]:
    """Return the columns of a table by name, but those left out."""
    described = connection.execute(f'DESCRIBE "{table}"').fetchall()
    return tuple(sorted(name for name, *_ in described if name not in left_out))


def sums_by_site(
    connection: duckdb.DuckDBPyConnection,
    source: str,
    columns: Sequence[str],
    sites: Collection[str] | None,
) -> BySite:
    """Return how many rows and the sum of their hashes by site, of some sites or all.

    Args:
        connection: any.
        source: what rows are read from, as SQL names it.
        columns: the columns hashed.
        sites: those wanted; None: all.
    """
    listed = ", ".join(f'"{name}"' for name in columns)
    site = "coalesce(site_id::VARCHAR, '')" if "site_id" in columns else "''"
    chosen = "" if sites is None else f"WHERE {of_sites(sites)}"
    rows = connection.execute(
        f"SELECT {site} AS site, count(*), sum(hash({listed}))::VARCHAR"
        f" FROM {source} {chosen} GROUP BY ALL"
    ).fetchall()
    return {site: (n, int(hashes)) for site, n, hashes in rows if n}


def of_sites(sites: Collection[str]) -> str:
    """Return the condition that a row is of one of these sites, "" for one that names none."""
    named = ", ".join(quoted(site) for site in sorted(sites) if site)
    told = [f"site_id IN ({named})"] if named else []
    if "" in sites:
        told.append("site_id IS NULL")
    return f"({' OR '.join(told)})" if told else "false"


def short(told: object) -> str:
    """Return a short hash of what its `repr` tells."""
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]
