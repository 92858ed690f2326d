"""The rows of touched wearers, as published and as built: read once a run, whoever asks.

Finding them takes two columns of a table, and the rest is read of their rows alone; each query
that read them anew would cost more than counting all.
"""

from collections.abc import Collection
from pathlib import Path

import duckdb
import polars as pl

from pipeline.warehouse.connect import BEFORE, attach

# Tables of which each row belongs to one wearer of a site.
BY_WEARER = ("session_aid", "session", "episode", "device")
# Of so few columns that reading all beside the key costs less than looking rows up.
NARROW = frozenset({"device"})
AFTER = "built_now"
ASIDE = "wearer_rows"


class WearerRows:
    """Small tables of all columns, beside the warehouse being built and in memory.

    Args:
        wearers: site_id and wearer_key of those touched; closed under shared sessions and aids.
        published: the published warehouse, of which the one being built is a copy.
    """

    def __init__(self, wearers: pl.DataFrame, published: Path) -> None:
        self._wearers, self._published = wearers, published
        self._catalog = ""
        self._made: set[tuple[str, str]] = set()
        self.sites: frozenset[str] = frozenset(wearers["site_id"])
        self._by_site: dict[tuple[str, str], dict[str, int]] = {}

    def rows(self, connection: duckdb.DuckDBPyConnection, table: str, source: str) -> str:
        """Return what holds the rows of a table, as SQL names it.

        Args:
            connection: to the warehouse being built.
            table: one of `BY_WEARER`.
            source: `BEFORE`, as published, or `AFTER`, as built.
        """
        name = f'{ASIDE}.main."{table} {source}"'
        if (table, source) not in self._made:
            self._prepare(connection)
            catalog = BEFORE if source == BEFORE else self._catalog
            lies_in = f'"{catalog}".main."{table}"'
            own = f"FROM {lies_in} SEMI JOIN {ASIDE}.wearer USING (site_id, wearer_key)"
            connection.execute(f"CREATE OR REPLACE TABLE {name} AS {_by_row(lies_in, own, table)}")
            self._made.add((table, source))
        return name

    def count(
        self, connection: duckdb.DuckDBPyConnection, table: str, left_out: Collection[str]
    ) -> int:
        """Return how many rows of touched wearers a table holds, as published or built if more.

        Args:
            connection: to the warehouse being built.
            table: one of `BY_WEARER`.
            left_out: sites not counted.
        """
        counts = (self._counts(connection, table, source) for source in (BEFORE, AFTER))
        return max(sum(n for s, n in one.items() if s not in left_out) for one in counts)

    def is_made(self, table: str, source: str) -> bool:
        """Tell whether the rows of a table were asked for."""
        return (table, source) in self._made

    def close(self, connection: duckdb.DuckDBPyConnection) -> None:
        """Let go of the rows."""
        if self._made:
            connection.execute(f"DETACH {ASIDE}")
            self._made.clear()

    def _counts(
        self, connection: duckdb.DuckDBPyConnection, table: str, source: str
    ) -> dict[str, int]:
        key = table, source
        if key not in self._by_site:
            held = self.rows(connection, table, source)
            counted = f"SELECT site_id, count(*) FROM {held} GROUP BY ALL"
            self._by_site[key] = dict(connection.execute(counted).fetchall())
        return self._by_site[key]

    def _prepare(self, connection: duckdb.DuckDBPyConnection) -> None:
        if not self._made:
            attach(connection, self._published)
            found = connection.execute("SELECT current_database()").fetchall()
            self._catalog = str(found[0][0])
            connection.execute(f"ATTACH IF NOT EXISTS ':memory:' AS {ASIDE} (COMPRESS)")
            connection.register("given_wearers", self._wearers)
            connection.execute(
                f"CREATE OR REPLACE TABLE {ASIDE}.wearer AS"
                " SELECT DISTINCT site_id, wearer_key FROM given_wearers"
            )
            connection.unregister("given_wearers")


def _by_row(lies_in: str, own: str, table: str) -> str:
    """Return the query of some rows: first their numbers, by two columns, where there are many.

    A semi join reads every column of rows that it then leaves.
    """
    if table in NARROW:
        return f"SELECT * {own}"
    return f"SELECT * FROM {lies_in} WHERE rowid IN (SELECT rowid {own})"
