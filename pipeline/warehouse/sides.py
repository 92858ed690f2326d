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
        """Let views of the tables' names hold the rows in scope, and the columns hashed.

        Args:
            main: a connection to the warehouse being built, without temporary tables.
            tables: the tables that name sites.
            wearers: the rows of touched wearers.
        """
        scope = self.scope
        if scope is None:
            return
        for name, sums in tables.items():
            lies_in = f'"{self.source}".main."{name}"'
            sites = scope.sites
            columns, more = "*", ""
            if scope.has_wearers and wearers is not None:
                if name in BY_WEARER:
                    held = wearers.rows(main, name, BEFORE if self.source == BEFORE else AFTER)
                    more = f" UNION ALL SELECT * FROM {held} WHERE NOT {of_sites(sites)}"
                else:
                    sites |= wearers.sites
            if is_narrow(name):
                columns = ", ".join(f'"{column}"' for column in sums.columns)
            self.connection.execute(
                f'CREATE OR REPLACE TEMP VIEW "{name}" AS SELECT {columns} FROM {lies_in}'
                f" WHERE {of_sites(sites)}{more}"
            )

    def put(self, name: str, frame: pl.DataFrame) -> None:
        """Make a small table of the whole group."""
        self.connection.register("given_rows", frame)
        self.connection.execute(f'CREATE OR REPLACE TEMP TABLE "{name}" AS FROM given_rows')
        self.connection.unregister("given_rows")
