"""Rows of the touched wearers alone, written anew in a copy, give what a whole build gives."""

import random
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.settings import Settings
from pipeline.warehouse import carry
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


def test_an_earlier_wearer_is_touched_with_a_row_that_goes(night: Night) -> None:
    row = session(session_id="N1", device_id="A8", patient_id="W8", started_at=day_of(199))
    night.send("site-a", "sessions", "new", [row, row | {"session_id": "N2", "device_id": "A12",
                                                         "patient_id": "W12"}])  # fmt: skip
    night.begin()
    night.send("site-a", "sessions", "new", [row])
    assert wearers(night.grow()) == {"W8", "W12"}
    night.forget("site-a", "sessions", "new")
    assert wearers(night.grow()) == {"W8"}


def test_the_last_day_ends_and_reopens_episodes_of_others(night: Night) -> None:
    kept = session(session_id="K", device_id="X", patient_id="X", started_at=at("2026-05-04"),
                   disposition="kept_at_clinic")  # fmt: skip
    night.send("site-a", "sessions", "kept", [kept])
    night.begin()
    gap = Settings().episode_gap_days
    end = {n: at((date(2026, 5, 4) + timedelta(gap + n)).isoformat()) for n in (0, 1)}
    last = {n: session(session_id="L", device_id="Y", patient_id="Y", started_at=day)
            for n, day in end.items()}  # fmt: skip
    night.send("site-a", "sessions", "last", [last[0]])
    assert "X" not in wearers(night.grow())
    night.send("site-a", "sessions", "last", [last[1]])
    assert "X" in wearers(night.grow())
    night.send("site-a", "sessions", "other", [last[1] | {"session_id": "M"}])
    assert "X" not in wearers(night.grow())
    night.forget("site-a", "sessions", "other")
    assert "X" not in wearers(night.grow())
    night.send("site-a", "sessions", "last", [last[0]])
    assert "X" in wearers(night.grow())


def test_events_of_an_aid_touch_its_wearer(night: Night) -> None:
    event = {"site_id": "site-a", "device_id": "A8", "occurred_on": date(2026, 2, 20)}
    night.send("site-a", "service_events", "e", [event | {"event": "sent_for_repair"}])
    night.begin()
    night.send("site-a", "service_events", "e", [event | {"event": "sent_for_repair"},
               event | {"device_id": "A16", "event": "returned"},
               event | {"device_id": "A13", "event": "replaced"}])  # fmt: skip
    assert wearers(night.grow()) == {"W13"}


def test_a_line_that_changes_touches_sessions_since_then(night: Night) -> None:
    def check(day: str, reading: float) -> dict[str, Any]:
        return {"site_id": "site-a", "dryer_id": "D1", "checked_at": at(day), "dose_ul": 10.0,
                "reading_ul": reading, "replicate": 1}  # fmt: skip

    night.send("site-a", "dose_checks", "c", [check("2026-01-02", 10.1), check("2026-02-02", 10.0)])
    night.begin()
    night.send("site-a", "dose_checks", "late", [check(day_of(190).date().isoformat(), 10.2)])
    found = wearers(night.grow())
    assert "W32" in found and "W20" not in found  # aids of numbers 190 and up, and no others


KINDS = ("sessions", "sessions", "sessions", "service_events", "dose_checks")


def random_row(rng: random.Random, site: str) -> dict[str, Any]:
    """A session row of any sort: of a known aid or none, in a load or alone, sound or not."""
    number = rng.randrange(220)
    own = number % 40 if rng.random() < 0.9 else rng.randrange(40)
    aid = rng.choice([f"A{own}", f"A{own}", None])
    start = day_of(number) + timedelta(days=rng.choice([0, 0, 0, 25]))
    return session(
        site_id=site,
        session_id=rng.choice([f"S{number}", f"S{number}", f"N{rng.randrange(60)}", None]),
        device_id=aid, patient_id=rng.choice([f"W{own - own % 4 // 3}", None]),
        treatment=rng.choice(["dried", "dried", "cleaned_only"]),
        dryer_id=rng.choice(["D1", "D1", "D2", None, "D9"]), started_at=start,
        ear=rng.choice(["left", "right"]), moisture_ul=rng.choice([2.0, 3.0, None]),
        exposure=rng.choice(["none_known", "immersion", None]),
        disposition=rng.choice(["kept_at_clinic", "returned_to_wearer", None]),
        test_box_id=rng.choice([None, None, f"{rng.randrange(3):032x}"]),
    )  # fmt: skip


def random_file(rng: random.Random, site: str, table: str) -> Rows:
    aid = {"site_id": site, "device_id": f"A{rng.randrange(40)}"}
    day = day_of(rng.randrange(220))
    if table == "service_events":
        kinds = ("sent_for_repair", "replaced", "returned")
        return [aid | {"occurred_on": day.date(), "event": rng.choice(kinds)}]
    if table == "dose_checks":
        return [{"site_id": site, "dryer_id": "D1", "checked_at": day, "dose_ul": 10.0,
                 "reading_ul": rng.choice([9.9, 10.2, 13.0]), "replicate": 1}]  # fmt: skip
    return [random_row(rng, site) for _ in range(rng.randrange(1, 5))]


def random_night(night: Night, rng: random.Random) -> None:
    for _ in range(rng.randrange(1, 4)):
        site, table = rng.choice(SITES), rng.choice(KINDS)
        name = str(rng.randrange(3))
        if f"{site}/{table}/{name}" in night.files and rng.random() < 0.3:
            night.forget(site, table, name)
            continue
        rows = random_file(rng, site, table)
        refused = None
        if table == "sessions" and rng.random() < 0.4:
            kept = ("site_id", "session_id", "dryer_id", "treatment", "started_at")
            refused = [
                {name: row[name] for name in kept}
                | {"rule": "value_known", "column_name": "ear", "time_precision": "instant",
                   "row_json": "{}"}
                for row in (random_row(rng, site) for _ in range(2))
            ]  # fmt: skip
        night.send(site, table, name, rows, refused)


def random_nights(folder: Path, seed: int, nights: int) -> list[Touched | None]:
    rng = random.Random(seed)
    night = Night(folder)
    night.begin()
    found = []
    for _ in range(nights):
        random_night(night, rng)
        if night.files != night.published:
            found.append(night.grow())
    return found


def test_random_nights_give_what_a_whole_build_gives(tmp_path: Path) -> None:
    found = random_nights(tmp_path, seed=1, nights=6)
    told = [one for one in found if one is not None and not one.sites and one.wearers.height]
    assert len(told) >= 3
