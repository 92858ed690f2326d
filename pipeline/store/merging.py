"""Merge small parts, and write parts anew of which too much is no longer needed.

Each run leaves a part a batch: small ones on most days. Where a table has too many of them they
become one, so that a build opens few files however many exports there were. Nothing is overwritten:
the ledger names the new parts, and the old ones go with the next run.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.store.layout import PART_KINDS, Store
from pipeline.store.ledger import FileVersion
from pipeline.store.part_rows import in_order, rows_in, write_part
from pipeline.store.parts import DROPPED, has_rows

ROWS_OF_BASE = 250_000
MOST_TAILS = 16
MOST_UNNEEDED = 0.2


@dataclass(frozen=True)
class Held:
    """One part: the versions whose rows are needed, how many rows these are, how many are not."""

    name: str
    versions: list[FileVersion]
    needed: int
    unneeded: int

    @property
    def order(self) -> tuple[str, str]:
        """Where its rows stand among those of other parts: by site, then by file."""
        return min((v.site_id or "", v.place) for v in self.versions)


@dataclass(frozen=True)
class Merge:
    """Parts of one kind and table that are to be written anew, in their order."""

    kind: str
    table_name: str
    parts: list[Held]


def planned(store: Store, versions: Iterable[FileVersion], *, is_strict: bool) -> list[Merge]:
    """Return what is to be merged.

    Args:
        store: the store.
        versions: all that the ledger lists.
        is_strict: no row may stay that is not needed.
    """
    found = []
    by_part: dict[tuple[str, str], dict[str, list[FileVersion]]] = {}
    for version in versions:
        for kind in PART_KINDS:
            if version.status not in DROPPED and has_rows(kind, version):
                group = by_part.setdefault((kind, version.table_name), {})
                group.setdefault(version.part_name(kind), []).append(version)
    for (kind, table_name), group in sorted(by_part.items()):
        held = [one for name, own in group.items() if (one := _held(store, kind, name, own))]
        chosen = to_merge(held, is_strict=is_strict)
        if chosen:
            found.append(Merge(kind, table_name, sorted(chosen, key=lambda part: part.order)))
    return found


def to_merge(parts: Sequence[Held], *, is_strict: bool = False) -> list[Held]:
    """Choose among the parts of one kind and table: the small ones, and those with unneeded rows.

    Small ones stay while there are at most `MOST_TAILS`, unneeded rows while they are at most
    `MOST_UNNEEDED` of a part, unless `is_strict`.
    """
    small = [part for part in parts if part.needed <= ROWS_OF_BASE / 2]
    tails = small if len(small) > MOST_TAILS else []
    most = 0.0 if is_strict else MOST_UNNEEDED
    stale = [part for part in parts if part.unneeded > most * (part.needed + part.unneeded)]
    return [part for part in parts if part in tails or part in stale]


def _held(store: Store, kind: str, name: str, versions: list[FileVersion]) -> Held | None:
    """Look what a part holds; None where it cannot be read: whoever builds from it will say so."""
    rows = pl.scan_parquet(store.part(kind, name)).group_by("file_id").len()
    try:
        counted: dict[str, int] = dict(rows.collect().iter_rows())
    except (OSError, pl.exceptions.PolarsError):
        return None
    needed = sum(counted.get(version.file_id, 0) for version in versions)
    return Held(name, versions, needed, sum(counted.values()) - needed)


def merge(store: Store, plan: Iterable[Merge]) -> None:
    """Write the parts that a plan asks for, and name them in the versions whose rows they hold."""
    for one in plan:
        for parts in _batches(one.parts):
            versions = sorted(
                (version for part in parts for version in part.versions),
                key=lambda v: (v.site_id or "", v.place),
            )
            frames = [
                rows_in(store.part(one.kind, part.name), [v.file_id for v in part.versions])
                for part in parts
            ]
            rows = in_order(
                pl.concat(frames, how="diagonal_relaxed"), [v.file_id for v in versions]
            )
            name = write_part(store, one.kind, one.table_name, rows)
            for version in versions:
                version.parts = version.parts | {one.kind: name}


def _batches(parts: Iterable[Held]) -> Iterator[list[Held]]:
    """Gather parts, in their order, until their rows make a base."""
    gathered: list[Held] = []
    rows = 0
    for part in parts:
        if gathered and rows + part.needed > ROWS_OF_BASE:
            yield gathered
            gathered, rows = [], 0
        gathered.append(part)
        rows += part.needed
    if gathered:
        yield gathered
