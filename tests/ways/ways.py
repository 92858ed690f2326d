"""What a store holds, hashed table by table, and the store made in one way or another."""

import json
import os
import random
import shutil
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from pipeline import publishing
from pipeline.commands import refresh
from pipeline.commands.main import main
from pipeline.measures.catalogue import MEASURES
from pipeline.screening import batch, order
from pipeline.store import merging
from pipeline.warehouse import connect
from pipeline.warehouse.table_sums import digest_of
from schemas.facts.catalogue import FACTS
from tests.ways.made import AS_OF, Arrival, Made

# What names a run, and what a run that saw no earlier version of a file cannot know of it.
OF_THE_RUN = ("run_id", "since_run", "first_seen_run")
OF_HISTORY = {"row_account": ("withdrawn",)}
# Which file, and where in it, told a row.
OF_FILES = ("file_id", "line", "part_of_line")
LISTS = ("quarantined_row", "refused_value", "correction")
LIVE_ALONE = ("row_account", "export_file")
TABLES = (*FACTS, *(item.name for item in MEASURES), *LISTS)
Digests = dict[str, str]


def digests(store: Path, left_out: Collection[str] = ()) -> Digests:
    """Return a hash of every fact, measure and list of a published warehouse.

    Of the lists of files only those whose rows count are compared: what else there was before is
    history.
    """
    with connect.reader(store / "warehouse.duckdb") as connection:
        there = {name for (name,) in connection.execute("SHOW TABLES").fetchall()}
        found = {
            name: digest_of(connection, name, {*OF_THE_RUN, *left_out})
            for name in TABLES if name in there
        }  # fmt: skip
        live = "SELECT file_id FROM row_account WHERE is_live"
        for name in LIVE_ALONE:
            connection.execute(
                f"CREATE TEMP VIEW live AS SELECT * FROM {name} WHERE file_id IN ({live})"
            )
            kept = {*OF_THE_RUN, *left_out, *OF_HISTORY.get(name, ())}
            found[name] = digest_of(connection, "live", kept)
            connection.execute("DROP VIEW live")
    return found


def differing(one: Digests, other: Digests) -> list[str]:
    """Name the tables that differ."""
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


class Place:
    """A drop folder and a store of its own."""

    def __init__(self, folder: Path) -> None:
        self.exports, self.store = folder / "exports", folder / "store"
        self.dashboards = folder / "dashboards"

    def drop(self, files: Iterable[Arrival]) -> None:
        for one in files:
            one.drop(self.exports)

    def arguments(self, *more: str) -> list[str]:
        return [
            "refresh", str(self.exports), "--store", str(self.store), "--plain", "--as-of", AS_OF,
            *more,
        ]  # fmt: skip

    def refresh(self, *more: str) -> None:
        code = main(self.arguments("--quiet", *more))
        assert code in {0, 3}, code

    def rebuild(self, *more: str) -> None:
        assert main(["rebuild", "--store", str(self.store), *more]) in {0, 3}

    def digests(self, left_out: Collection[str] = ()) -> Digests:
        return digests(self.store, left_out)

    def ledger(self) -> dict[str, object]:
        newest = max((self.store / "ledger").glob("*.json"))
        return dict(json.loads(newest.read_text(encoding="utf-8")))


def at_once(place: Place, made: Made, *more: str) -> Place:
    """Load all files by one run."""
    place.drop(made.last())
    place.refresh(*more)
    return place


def by_nights(place: Place, nights: Iterable[Iterable[Arrival]], first: Iterable[Arrival]) -> Place:
    """Load the files as they come, a run a night."""
    place.drop(first)
    for night in nights:
        place.drop(night)
        place.refresh()
    return place


@contextmanager
def patched(changes: Mapping[tuple[object, str], object]) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for (holder, name), value in changes.items():
            patch.setattr(holder, name, value)
        yield


def many_batches() -> dict[tuple[object, str], object]:
    """A batch a file, an order a batch, seven rows screened at once."""
    return {
        (batch, "BYTES_AT_ONCE"): 1, (batch, "ROWS_AT_ONCE"): 7, (order, "LEAST_BYTES"): 1,
    }  # fmt: skip


def threads(count: int) -> dict[tuple[object, str], object]:
    """So many threads of the database."""
    return {(os, "cpu_count"): lambda: count}


def small_parts() -> dict[tuple[object, str], object]:
    """Parts are merged as soon as there are three of a table."""
    return {(merging, "MOST_TAILS"): 2}


def always_copied() -> dict[tuple[object, str], object]:
    """Every change goes into a copy of the published warehouse, unless the contract forbids it."""
    return {(publishing, "SMALL_CHANGE"): 1.0, (publishing, "MOST_GROWTH"): 100.0}


def never_copied() -> dict[tuple[object, str], object]:
    """Every change builds the warehouse whole."""
    return {(publishing, "SMALL_CHANGE"): -1.0}


def shuffled(rng: random.Random) -> dict[tuple[object, str], object]:
    """Files are found in a random order."""
    find = refresh.find_files

    def found(*given: object) -> list[object]:
        files = list(find(*given))  # type: ignore[arg-type]
        rng.shuffle(files)
        return files

    return {(refresh, "find_files"): found}


def copy_of(place: Place, folder: Path) -> Place:
    """Return a copy of a drop folder and its store, file times kept."""
    other = Place(folder)
    for source, target in ((place.exports, other.exports), (place.store, other.store)):
        shutil.copytree(source, target)
    return other
