"""What a night changed, and what a build wrote anew in a copy of the published warehouse."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.warehouse.part_source import LivePart

WEARERS = {"site_id": pl.String, "wearer_key": pl.String}
SESSIONS, CHAMBER_RUNS = "sessions", "chamber_runs"
MOST_OF_SITE = 0.5
MOST_OF_ALL = 0.5


@dataclass(frozen=True)
class Change:
    """The files that came and went since the published warehouse was built.

    Attributes:
        added: file_id of those whose rows count now and did not.
        removed: those whose rows counted and do no more; one that was read anew is among both.
        whole: sites of which more may have changed than what these files tell.
    """

    added: frozenset[str] = frozenset()
    removed: Sequence[LivePart] = ()
    whole: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Touched:
    """What a build wrote anew in a copy of the published warehouse.

    Attributes:
        sites: every row of these.
        wearers: site_id, wearer_key: of other sites, all rows of these; closed under shared
            sessions and devices, as these were and as they are. Tables without wearers were
            written anew for every changed site.
    """

    sites: frozenset[str]
    wearers: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=WEARERS))


def whole_sites(
    changed: frozenset[str], parts: Sequence[LivePart], change: Change
) -> frozenset[str]:
    """Return the changed sites of which every row is to be written anew.

    Those whose runs a chamber's log tells, where a run near a record may make another ambiguous;
    those whose change is large; those of which an earlier part is gone.
    """
    rows: dict[str, int] = {}
    moved: dict[str, int] = {}
    found = set(change.whole)
    for part in (*parts, *change.removed):
        if part.site_id is None:
            continue
        if part.table_name == CHAMBER_RUNS:
            found.add(part.site_id)
        if part.table_name == SESSIONS:
            rows[part.site_id] = rows.get(part.site_id, 0) + (part.accepted or 0)
    for part in change.removed:
        gone = (part.validated, part.quarantine)
        if part.site_id and any(path is not None and not path.exists() for path in gone):
            found.add(part.site_id)
    for part in (*(one for one in parts if one.file_id in change.added), *change.removed):
        if part.site_id and part.table_name == SESSIONS:
            moved[part.site_id] = moved.get(part.site_id, 0) + (part.accepted or 0)
    found |= {site for site, count in moved.items() if count > MOST_OF_SITE * rows[site]}
    return frozenset(found) & changed


def is_most(sites: frozenset[str], parts: Sequence[LivePart]) -> bool:
    """Tell whether so many rows are of these sites that all is built faster."""
    rows = [(one.accepted or 0, one.site_id) for one in parts if one.table_name == SESSIONS]
    return sum(n for n, site in rows if site in sites) > MOST_OF_ALL * sum(n for n, _ in rows)
