"""Which rows count: newest version, any order of files, set rules, the account."""

import random
import time
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.errors import AccountError, QueryError, StoreError
from pipeline.settings import Settings
from pipeline.warehouse.account import close_account
from pipeline.warehouse.build import build_warehouse
from pipeline.warehouse.fence import fenced_query
from pipeline.warehouse.part_source import LivePart
from pipeline.warehouse.publish import finish, publish
from pipeline.warehouse.soundness import scan
from schemas.rule_book import said_of
from tests.busy import is_busy
from tests.warehouse.parts import AS_OF, DRYER, SITE, ask, at, build, group, part, session

TABLES = (
    "session_aid", "session", "episode", "device", "site", "dryer", "dose_check", "service_event",
    "quarantined_row", "refused_value",
)  # fmt: skip
WHY = "SELECT file_id, line, rule FROM quarantined_row ORDER BY ALL"


def content(warehouse: Path) -> dict[str, list[tuple[Any, ...]]]:
    return {name: ask(warehouse, f"SELECT * FROM {name} ORDER BY ALL") for name in TABLES}


def versions(folder: Path) -> list[LivePart]:
    """Three files with overlapping keys: the same row, and the same key with other content."""
    base = [part(folder, "sites", [SITE]), part(folder, "dryers", [DRYER])]
    same = session(cycle_minutes=20.0)
    return [
        *base,
        part(folder, "sessions", [same, same], name="site-a/one", site_id="site-a", seen=1),
        part(folder, "sessions", [session(cycle_minutes=20.04)], name="site-a/two",
             site_id="site-a", seen=2),
        part(folder, "sessions", [session(cycle_minutes=25.0)], name="site-a/zero",
             site_id="site-a", seen=1),
    ]  # fmt: skip


def test_the_newest_version_counts_and_the_others_are_named(tmp_path: Path) -> None:
    warehouse = build(tmp_path, versions(tmp_path))
    assert ask(warehouse, "SELECT file_id, cycle_minutes, aids_in_chamber FROM session_aid") == [
        ("site-a-two", 20.04, 1)
    ]
    # 20.00 and 20.04 minutes are one value at the stored resolution of 0.1.
    assert ask(warehouse, WHY) == [
        ("site-a-one", 2, "duplicate"),
        ("site-a-one", 3, "duplicate"),
        ("site-a-zero", 2, "conflicting_duplicate"),
    ]


@pytest.fixture(scope="module")
def in_order(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[LivePart], dict[str, Any]]:
    """The three files in their order, and what the warehouse of them holds."""
    folder = tmp_path_factory.mktemp("in_order")
    parts = versions(folder)
    return parts, content(build(folder, parts))


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 10_000))
def test_the_order_of_files_changes_nothing(
    tmp_path: Path, in_order: tuple[list[LivePart], dict[str, Any]], seed: int
) -> None:
    parts, expected = in_order
    shuffled = random.Random(seed).sample(parts, len(parts))
    assert content(build(tmp_path, shuffled)) == expected


def test_equal_rows_without_an_aid_id_are_two_aids_of_one_file(tmp_path: Path) -> None:
    rows = [session(device_id=None)] * 2
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(warehouse, "SELECT count(*), count(DISTINCT device_key) FROM session_aid") == [
        (2, 2)
    ]
    parts = group(tmp_path, rows)
    parts.append(part(tmp_path, "sessions", rows, name="site-a/again", site_id="site-a", seen=2))
    warehouse = build(tmp_path, parts, name="again")
    # The second file exports the same two aids again.
    assert ask(warehouse, "SELECT count(*) FROM session_aid") == [(2,)]


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"dryer_id": "D7"}, "chamber_listed"),
        ({"model_code": "M1"}, "model_listed"),
        ({"receiver_code": "R1"}, "receiver_listed"),
        ({"site_id": "site-z"}, "site_listed"),
        ({"started_at": at("2026-07-03")}, "session_not_future"),
        ({"started_at": at("2014-12-31")}, "clinic_open"),
    ],
)
def test_a_row_that_breaks_a_set_rule_waits(
    tmp_path: Path, change: dict[str, Any], rule: str
) -> None:
    parts = group(tmp_path, [session(), session(session_id="S2", **change)])
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT session_id FROM session_aid") == [("S1",)]
    assert ask(warehouse, "SELECT line, rule FROM quarantined_row") == [(3, rule)]
    column, sentence = ask(warehouse, "SELECT column_name, sentence FROM quarantined_row")[0]
    assert sentence == said_of("sessions", rule, column).sentence
    assert ask(warehouse, "SELECT row_json IS NOT NULL FROM quarantined_row") == [(True,)]


def test_a_session_tomorrow_is_not_yet_the_future(tmp_path: Path) -> None:
    warehouse = build(tmp_path, group(tmp_path, [session(started_at=at("2026-07-02"))]))
    assert ask(warehouse, "SELECT count(*) FROM session_aid") == [(1,)]


def account_of(parts: list[LivePart], read: dict[str, int]) -> pl.DataFrame:
    return pl.DataFrame(
        [
            {
                "file_id": p.file_id, "file": p.file, "site_id": p.site_id, "member": None,
                "table_name": p.table_name, "rows_read": read.get(p.file_id, 1),
                "quarantined": 0, "skipped_lines": 0, "values_refused": 0,
                "withdrawn": 0, "status": "loaded",
                "lines_read": read.get(p.file_id, 1),
                "is_live": True, "run_id": "r1", "message": None, "sha256": "0", "bytes": 1,
                "first_seen_run": "r1", "superseded_by": None,
            }
            for p in parts
        ],
        infer_schema_length=None,
    )  # fmt: skip


def test_the_account_balances_and_a_lost_row_stops_the_run(tmp_path: Path) -> None:
    parts = versions(tmp_path)
    warehouse = build(tmp_path, parts)
    account = close_account(warehouse, account_of(parts, {"site-a-one": 2}))
    sums = account.select("file_id", "accepted", "quarantined", "duplicate").rows()
    assert sums == [
        ("reference-dryers", 1, 0, 0),
        ("reference-sites", 1, 0, 0),
        ("site-a-one", 0, 0, 2),
        ("site-a-two", 1, 0, 0),
        ("site-a-zero", 0, 0, 1),
    ]
    warehouse = build(tmp_path, parts, name="lost")
    with pytest.raises(AccountError, match="site-a/one: the row account does not balance"):
        close_account(warehouse, account_of(parts, {"site-a-one": 3}))


def two_sites(folder: Path, changed: bool) -> list[LivePart]:
    sites = [SITE, SITE | {"site_id": "site-b", "latitude": -33.0}]
    dryers = [DRYER, DRYER | {"site_id": "site-b", "dryer_id": "D9"}]
    parts = [part(folder, "sites", sites), part(folder, "dryers", dryers)]
    for site, dryer in (("site-a", "D1"), ("site-b", "D9")):
        rows = [
            session(site_id=site, dryer_id=dryer, session_id=f"S{i}", device_id=f"A{i % 7}",
                    started_at=at(f"2026-03-{1 + i % 20:02d}", 8 + i % 9), moisture_ul=float(i))
            for i in range(40)
        ]  # fmt: skip
        rows += [*rows[:3], session(site_id=site, dryer_id="D8", session_id="SX")]
        event = {"site_id": site, "device_id": "A1", "occurred_on": date(2026, 3, 5),
                 "event": "sent_for_repair"}  # fmt: skip
        parts.append(part(folder, "sessions", rows, name=f"{site}/a", site_id=site))
        parts.append(part(folder, "service_events", [event], name=f"{site}/b", site_id=site))
        if changed and site == "site-b":
            more = rows[5:9] + [r | {"condition_after": "normal"} for r in rows[:2]]
            more += [session(site_id=site, dryer_id=dryer, session_id="SN")]
            parts.append(part(folder, "sessions", more, name=f"{site}/c", site_id=site, seen=2))
    return parts


def test_a_site_rebuilt_in_a_copy_equals_a_whole_build(tmp_path: Path) -> None:
    grown = build(tmp_path, two_sites(tmp_path, changed=False), name="grown")
    parts = two_sites(tmp_path, changed=True)
    before = content(grown)
    # close_account drops the count of device rows; a published copy comes without it.
    with duckdb.connect(str(grown)) as connection:
        connection.execute("DROP TABLE device_row_count")
    build_warehouse(grown, parts, as_of=AS_OF, settings=Settings(), sites=frozenset({"site-b"}))
    whole = build(tmp_path, parts, name="whole")
    assert content(grown) == content(whole)
    assert content(whole) != before
    # A removed file takes its rows with it.
    fewer = two_sites(tmp_path, changed=False)
    build_warehouse(grown, fewer, as_of=AS_OF, settings=Settings(), sites=frozenset({"site-b"}))
    assert content(grown) == before


def accounts(parts: list[LivePart]) -> pl.DataFrame:
    rows = {
        "site-a/a": 44,
        "site-b/a": 44,
        "site-b/c": 7,
        "reference/sites": 2,
        "reference/dryers": 2,
    }
    return account_of(parts, {p.file_id: rows.get(p.file, 1) for p in parts})


def test_the_account_of_a_copy_counts_what_was_built_anew_alone(tmp_path: Path) -> None:
    parts = two_sites(tmp_path, changed=True)
    whole = build(tmp_path, parts, name="whole")
    grown = build(tmp_path, two_sites(tmp_path, changed=False), name="grown")
    close_account(grown, accounts(two_sites(tmp_path, changed=False)))
    sites = frozenset({"site-b"})
    build_warehouse(grown, parts, as_of=AS_OF, settings=Settings(), sites=sites)
    told = close_account(whole, accounts(parts))
    assert close_account(grown, accounts(parts), sites=sites).rows() == told.rows()
    # A day alone: nothing is counted, and the account is the same.
    build_warehouse(grown, parts, as_of=AS_OF, settings=Settings(), sites=frozenset())
    assert close_account(grown, accounts(parts), sites=frozenset()).rows() == told.rows()
    build_warehouse(grown, parts, as_of=AS_OF, settings=Settings(), sites=sites)
    with duckdb.connect(str(grown)) as connection:
        connection.execute("DELETE FROM session_aid WHERE site_id = 'site-b' AND moisture_ul = 9")
    with pytest.raises(AccountError, match="site-b/a: the row account does not balance"):
        close_account(grown, accounts(parts), sites=sites)


def test_damage_is_found_before_publishing(tmp_path: Path) -> None:
    rows = [session(session_id=f"S{i}", device_id=f"A{i}") for i in range(3000)]
    warehouse = build(tmp_path, group(tmp_path, rows))
    finish(warehouse)
    assert not warehouse.with_name(warehouse.name + ".wal").exists()
    assert warehouse.stat().st_mode & 0o077 == 0
    data = bytearray(warehouse.read_bytes())
    data[len(data) // 2] ^= 0xFF
    for name, bad in (("flipped", bytes(data)), ("cut", bytes(data[: len(data) // 3]))):
        hurt = tmp_path / f"{name}.duckdb"
        hurt.write_bytes(bad)
        with pytest.raises(StoreError, match="drytally rebuild"):
            scan(hurt)


def test_publishing_replaces_the_old_and_spares_its_readers(tmp_path: Path) -> None:
    store = tmp_path / "store"
    store.mkdir()
    parts = group(tmp_path, [session()])
    for name in ("one", "two"):
        target = build(store, parts, name=name)
        finish(target)
        (store / "warehouse.duckdb.wal").write_bytes(b"left")
        publish(target, store)
        assert not target.exists()
    assert sorted(p.name for p in store.iterdir()) == ["warehouse.duckdb"]
    assert ask(store / "warehouse.duckdb", "SELECT count(*) FROM session_aid") == [(1,)]


def test_a_damaged_part_is_told_not_traced(tmp_path: Path) -> None:
    parts = group(tmp_path, [session()])
    torn = tmp_path / "torn.parquet"
    torn.write_bytes(parts[2].validated.read_bytes()[:100])
    parts[2] = replace(parts[2], validated=torn)
    with pytest.raises(StoreError, match="a part of the store is damaged"):
        build(tmp_path, parts)


def test_a_runaway_join_is_stopped_in_time(tmp_path: Path) -> None:
    warehouse = build(tmp_path, group(tmp_path, [session()]))
    start = time.monotonic()
    with pytest.raises(QueryError, match="stopped after 1 seconds"):
        fenced_query(
            warehouse,
            "SELECT sum(hash(a.range, b.range) % 7) FROM range(1000000) a, range(1000000) b",
            timeout_s=1.0,
        )
    assert time.monotonic() - start < 3.0 + 20 * is_busy()


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT count(*) FROM (SELECT DISTINCT repeat('x', 100000) || range FROM range(20000))",
        "SELECT list(repeat('x', 1000000) || range) FROM range(2000)",
    ],
)
def test_a_query_beyond_its_memory_is_told_in_plain_words(tmp_path: Path, sql: str) -> None:
    """Two gigabytes of text: one query finds no room to spill to, the other none in memory."""
    warehouse = build(tmp_path, group(tmp_path, [session()]))
    with pytest.raises(QueryError) as told:
        fenced_query(warehouse, sql)
    assert str(told.value).splitlines() == [
        "the query needs more memory than the 1 GB it may use",
        "  Nothing was changed.",
        "  Filter or count the rows before they are joined, sorted or listed.",
    ]


def test_a_part_of_an_earlier_version_names_its_rules_by_sentence(tmp_path: Path) -> None:
    """Its sentences give the codes of today; one that is no rule any more stays as it is."""
    lost = [
        {"table_name": "sessions", "rule": rule, "column_name": column}
        for rule, column in (
            ("ear is one of the listed words", "ear"),
            ("moisture_ul is at least 0 and at most 2000 µL", "moisture_ul"),
            ("an aid that is dead after the cycle has no gain reading after it",
             "hfa_gain_after_db"),
            ("a row has as many fields as the header", None),
            ("a rule that is no more", None),
        )
    ]  # fmt: skip
    warehouse = build(tmp_path, group(tmp_path, [session()], quarantined=lost))
    told = ask(warehouse, "SELECT rule, sentence FROM quarantined_row ORDER BY line")
    assert told == [
        ("is_listed_word", lost[0]["rule"]), ("in_range", lost[1]["rule"]),
        ("dead_without_gain_after", lost[2]["rule"]), ("field_count", lost[3]["rule"]),
        ("a rule that is no more", lost[4]["rule"]),
    ]  # fmt: skip
