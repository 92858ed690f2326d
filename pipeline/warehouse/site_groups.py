"""Sites in groups of so many rows: a build holds one group, however many rows there are."""

from collections.abc import Mapping, Sequence

import duckdb

from pipeline.warehouse.part_source import LivePart

ROWS_AT_ONCE = 450_000
LEAST_SHARE = 1 / 3
SESSIONS = "sessions"


def groups_of(parts: Sequence[LivePart]) -> list[frozenset[str]]:
    """Return the sites that sent files in groups of `ROWS_AT_ONCE` rows, a larger site alone.

    A part holds files of sites that follow each other by name; so does a group. It ends where a
    part ends, if that leaves it a third of its rows: a part of two groups is read for both.
    """
    rows: dict[str, int] = {}
    for part in parts:
        if part.site_id is not None:
            rows[part.site_id] = rows.get(part.site_id, 0) + (part.accepted or 0)
    ends = _ends(parts)
    groups: list[list[str]] = []
    own: list[str] = []
    for site in sorted(rows):
        if own and _sum(own, rows) + rows[site] > ROWS_AT_ONCE:
            at = _cut(own, rows, ends)
            groups.append(own[:at])
            own = own[at:]
            if own and _sum(own, rows) + rows[site] > ROWS_AT_ONCE:
                groups.append(own)
                own = []
        own.append(site)
    return [frozenset(group) for group in (*groups, own) if group]


def _sum(sites: Sequence[str], rows: Mapping[str, int]) -> int:
    return sum(rows[site] for site in sites)


def _ends(parts: Sequence[LivePart]) -> frozenset[str]:
    """Return the sites after which no part of sessions goes on."""
    spans: dict[object, list[str]] = {}
    for part in parts:
        if part.site_id is not None and part.table_name == SESSIONS:
            spans.setdefault(part.validated or part.file_id, []).append(part.site_id)
    reached: dict[str, str] = {}
    for sites in spans.values():
        reached[min(sites)] = max(reached.get(min(sites), ""), *sites)
    found, far = set(), ""
    for site in sorted({site for sites in spans.values() for site in sites}):
        far = max(far, reached.get(site, site))
        if site == far:
            found.add(site)
    return frozenset(found)


def _cut(own: Sequence[str], rows: Mapping[str, int], ends: frozenset[str]) -> int:
    """Return how many of a full group's sites it keeps."""
    for at in range(len(own), 0, -1):
        if own[at - 1] in ends and _sum(own[:at], rows) >= LEAST_SHARE * ROWS_AT_ONCE:
            return at
    return len(own)


def without_files(
    connection: duckdb.DuckDBPyConnection, groups: Sequence[frozenset[str]]
) -> frozenset[str]:
    """Return the sites of the reference tables that no group holds, for they sent no file."""
    told = connection.execute("SELECT site_id FROM site UNION SELECT site_id FROM dryer_event")
    return frozenset(site for (site,) in told.fetchall()).difference(*groups)
