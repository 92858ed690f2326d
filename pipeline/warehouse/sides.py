"""Where a query sees the rows that it is to count: all, or some sites and touched wearers."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import duckdb
import polars as pl

from pipeline.warehouse.connect import BEFORE
from pipeline.warehouse.scopes import Scope
from pipeline.warehouse.table_sums import Sums, is_narrow, of_sites
from pipeline.warehouse.wearer_rows import AFTER, BY_WEARER, WearerRows


@dataclass
class Side:
    """A connection on which a query sees the rows of a scope alone, or all.

    Attributes:
        connection: its own temporary tables and views.
        source: the database whose rows are seen: the published one or the one being built.
        scope: what is seen; None: all, as they lie in the database being built.
        made: hash of what each temporary table was made from.
    """

    connection: duckdb.DuckDBPyConnection
    source: str
    scope: Scope | None
    made: dict[str, str] = field(default_factory=dict)

    def see(
        self, main: duckdb.DuckDBPyConnection, tables: Mapping[str, Sums],
        wearers: WearerRows | None,
    ) -> None:  # fmt: skip
        """Let views of the tables' names hold the rows in scope.

        Of narrow tables they hold the columns hashed, whatever the scope: a query sees nothing on
        which its counts are not said to rest.

        Args:
            main: a connection to the warehouse being built, without temporary tables.
            tables: the tables that name sites.
            wearers: the rows of touched wearers.
        """
        for name, sums in tables.items():
            narrow = is_narrow(name)
            columns = ", ".join(f'"{column}"' for column in sums.columns) if narrow else "*"
            lies_in = f'"{self.source}".main."{name}"'
            if self.scope is not None:
                seen = self._seen(main, name, f"SELECT {columns} FROM {lies_in}", wearers)
            elif narrow:
                seen = f"SELECT {columns} FROM {lies_in}"
            else:
                continue
            self.connection.execute(f'CREATE OR REPLACE TEMP VIEW "{name}" AS {seen}')

    def _seen(
        self, main: duckdb.DuckDBPyConnection, name: str, every: str, wearers: WearerRows | None
    ) -> str:
        """Return the query of those rows of a table that are in scope."""
        scope = self.scope or Scope()
        if not scope.has_wearers or wearers is None:
            return f"{every} WHERE {of_sites(scope.sites)}"
        if name not in BY_WEARER:
            return f"{every} WHERE {of_sites(scope.sites | wearers.sites)}"
        held = wearers.rows(main, name, BEFORE if self.source == BEFORE else AFTER)
        own = f"SELECT * FROM {held} WHERE NOT {of_sites(scope.sites)}"
        return f"{every} WHERE {of_sites(scope.sites)} UNION ALL {own}" if scope.sites else own

    def put(self, name: str, frame: pl.DataFrame) -> None:
        """Make a small table of the whole group."""
        self.connection.register("given_rows", frame)
        self.connection.execute(f'CREATE OR REPLACE TEMP TABLE "{name}" AS FROM given_rows')
        self.connection.unregister("given_rows")
