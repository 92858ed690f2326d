"""Sites in groups of so many rows: a build holds one group, however many rows there are."""

from collections.abc import Sequence

import duckdb

from pipeline.warehouse.part_source import LivePart

ROWS_AT_ONCE = 400_000


def groups_of(parts: Sequence[LivePart]) -> list[frozenset[str]]:
    """Return the sites that sent files in groups of `ROWS_AT_ONCE` rows, a larger site alone.

    A part holds files of sites that follow each other by name; so does a group.
    """
    rows: dict[str, int] = {}
    for part in parts:
        if part.site_id is not None:
            rows[part.site_id] = rows.get(part.site_id, 0) + (part.accepted or 0)
    groups: list[set[str]] = []
    held = ROWS_AT_ONCE
    for site in sorted(rows):
        if not groups or held + rows[site] > ROWS_AT_ONCE:
            groups.append(set())
            held = 0
        groups[-1].add(site)
        held += rows[site]
    return [frozenset(group) for group in groups]


def without_files(
    connection: duckdb.DuckDBPyConnection, groups: Sequence[frozenset[str]]
) -> frozenset[str]:
    """Return the sites of the reference tables that no group holds, for they sent no file."""
    told = connection.execute("SELECT site_id FROM site UNION SELECT site_id FROM dryer_event")
    return frozenset(site for (site,) in told.fetchall()).difference(*groups)
