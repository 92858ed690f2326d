"""Which rows a query must see again: of some sites all, of others those of touched wearers."""

from collections.abc import Mapping
from dataclasses import dataclass

import duckdb

from pipeline.warehouse.table_sums import Sums, Tables
from pipeline.warehouse.wearer_rows import BY_WEARER


@dataclass(frozen=True)
class Scope:
    """The rows over which a query is run as they were and as they are.

    Attributes:
        sites: those of which all rows are seen.
        has_wearers: of other sites the rows of touched wearers are.
    """

    sites: frozenset[str] = frozenset()
    has_wearers: bool = False

    @property
    def is_empty(self) -> bool:
        """Tell whether no row is in it."""
        return not (self.sites or self.has_wearers)


def scope_of(
    now: Mapping[str, Sums], before: Mapping[str, Sums], tables: Tables, *, is_by_wearer: bool
) -> Scope:
    """Return what differs between two warehouses of what a query reads.

    Args:
        now: the tables with sites that it reads, as built.
        before: the same as published.
        tables: tells of which sites any row may differ.
        is_by_wearer: each row it counts follows from the rows of one wearer, beside small tables.
    """
    sites: frozenset[str] = frozenset()
    of_wearers: frozenset[str] = frozenset()
    by_wearer = BY_WEARER if is_by_wearer and tables.wearers is not None else ()
    for table, one in now.items():
        differ = _differing(one, before[table])
        if table in by_wearer and table in tables.touched:
            of_wearers |= differ - tables.touched[table]
            differ &= tables.touched[table]
        sites |= differ
    return Scope(sites, bool(of_wearers - sites))


def is_over_half(
    connection: duckdb.DuckDBPyConnection, now: Mapping[str, Sums], before: Mapping[str, Sums],
    tables: Tables, scope: Scope,
) -> bool:  # fmt: skip
    """Tell whether over half of the rows are in a scope: all are counted then."""
    every = inside = 0
    for table, one in now.items():
        rows = {site: n for site, (n, _) in before[table].by_site.items()}
        for site, (n, _) in one.by_site.items():
            rows[site] = max(n, rows.get(site, 0))
        every += sum(rows.values())
        inside += sum(n for site, n in rows.items() if site in scope.sites)
        if scope.has_wearers and tables.wearers is not None and table in BY_WEARER:
            inside += tables.wearers.count(connection, table, scope.sites)
    return 2 * inside > every


def _differing(now: Sums, before: Sums) -> frozenset[str]:
    every = {*now.by_site, *before.by_site}
    return frozenset(s for s in every if now.by_site.get(s) != before.by_site.get(s))
