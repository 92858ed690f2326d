"""Rows of the touched wearers alone, written anew in a copy, give what a whole build gives."""

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.settings import Settings
from pipeline.warehouse import carry, closure, touched
from pipeline.warehouse.build import build_warehouse
from pipeline.warehouse.part_source import LivePart
from pipeline.warehouse.touched import Change, Touched
from schemas.facts.catalogue import FACTS
from tests.warehouse.parts import AS_OF, DRYER, SITE, at, part, session

TABLES = (*FACTS, "quarantined_row", "refused_value", "device_row_count", "contract_rule")
SITES = ("site-a", "site-b")
Rows = list[dict[str, Any]]


def digests(warehouse: Path) -> dict[str, str]:
    with duckdb.connect(str(warehouse), read_only=True) as con:
        return {name: carry.digest_of(con, name) for name in TABLES}


def rows_of(site: str, count: int, first: int = 0) -> Rows:
    """Sessions of as many aids over four months; every fourth wearer has two aids."""
    return [
        session(
            site_id=site, session_id=f"S{n}", device_id=f"A{n % 40}",
            patient_id=f"W{n % 40 - (n % 40) % 4 // 3}", started_at=day_of(n), moisture_ul=3.0,
            disposition=("kept_at_clinic", "returned_to_wearer")[n % 2],
        )
        for n in range(first, first + count)
    ]  # fmt: skip


def day_of(number: int) -> Any:
    day = date(2026, 1, 5) + timedelta(number * 120 // 200)
    return at(day.isoformat(), 8 + number % 9)


class Night:
    """The files of two sites, those of a night before among them, and the store that follows."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.number = folder, 0
        self.files: dict[str, LivePart] = {}
        self.published: dict[str, LivePart] = {}
        self.warehouse = folder / "copy.duckdb"
        sites = [SITE | {"site_id": site} for site in SITES]
        dryers = [DRYER | {"site_id": s, "dryer_id": d} for s in SITES for d in ("D1", "D2")]
        self.reference = [part(folder, "sites", sites), part(folder, "dryers", dryers)]
        for site in SITES:
            self.send(site, "sessions", "old", rows_of(site, 200))

    def send(
        self, site: str, table: str, name: str, rows: Rows, quarantined: Rows | None = None
    ) -> None:
        """Send a file, or another version of it."""
        self.number += 1
        self.files[f"{site}/{table}/{name}"] = replace(
            part(
                self.folder, table, rows, name=f"{site}/{table}-{name}-{self.number}", site_id=site,
                seen=self.number, quarantined=quarantined,
            ),
            accepted=len(rows),
        )  # fmt: skip

    def forget(self, site: str, table: str, name: str) -> None:
        del self.files[f"{site}/{table}/{name}"]

    def begin(self) -> None:
        """Build whole what is published before the night."""
        self.warehouse.unlink(missing_ok=True)
        live = [*self.reference, *self.files.values()]
        build_warehouse(self.warehouse, live, as_of=AS_OF, settings=Settings())
        self.published = dict(self.files)

    def grow(self, whole: frozenset[str] = frozenset()) -> Touched | None:
        """Take the night's change into the copy and hold it against a whole build."""
        live = [*self.reference, *self.files.values()]
        before = {one.file_id: one for one in self.published.values()}
        after = {one.file_id: one for one in self.files.values()}
        removed = [before[name] for name in before.keys() - after.keys()]
        added = frozenset(after.keys() - before.keys())
        changed = {one.site_id or "" for one in removed} | {after[n].site_id or "" for n in added}
        with duckdb.connect(str(self.warehouse)) as con:
            con.execute("DROP TABLE IF EXISTS device_row_count")
        found = build_warehouse(
            self.warehouse, live, as_of=AS_OF, settings=Settings(), sites=frozenset(changed),
            change=Change(added, removed, whole),
        )  # fmt: skip
        at_once = self.folder / "whole.duckdb"
        at_once.unlink(missing_ok=True)
        build_warehouse(at_once, live, as_of=AS_OF, settings=Settings())
        grown, right = digests(self.warehouse), digests(at_once)
        assert [name for name in TABLES if grown[name] != right[name]] == []
        self.published = dict(self.files)
        return found


@pytest.fixture
def night(tmp_path: Path) -> Night:
    return Night(tmp_path)


def wearers(found: Touched | None, site: str = "site-a") -> set[str]:
    assert found is not None
    assert found.sites == frozenset()
    rows = found.wearers.filter(site_id=site)["wearer_key"].to_list()
    assert len(rows) == len(set(rows))
    return set(rows)


def test_a_new_row_touches_its_wearer_and_who_shares_a_load_or_an_aid(night: Night) -> None:
    night.begin()
    new = session(session_id="N1", device_id="A8", patient_id="W8", started_at=day_of(199))
    night.send("site-a", "sessions", "new", [new])
    assert wearers(night.grow()) == {"W8"}
    shared = [new | {"session_id": "N2", "device_id": d, "patient_id": w}
              for d, w in (("A12", "W12"), ("A16", "W16"))]  # fmt: skip
    night.send("site-a", "sessions", "more", shared)
    assert wearers(night.grow()) == {"W12", "W16"}
    night.send("site-a", "sessions", "again", [new | {"session_id": "N3", "device_id": "A12",
                                                      "patient_id": "W12"}])  # fmt: skip
    assert wearers(night.grow()) == {"W12", "W16"}  # since a load of theirs is one
    night.send("site-a", "sessions", "aid", [new | {"session_id": "N4", "patient_id": "W20"}])
    assert wearers(night.grow()) == {"W8", "W20"}  # since an aid of theirs is one
