"""A warehouse built by groups of sites is the one that is built at once."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline import accounts
from pipeline.settings import Settings
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.warehouse import build, connect, site_groups
from pipeline.warehouse.part_source import LivePart
from pipeline.warehouse.table_sums import digest_of
from schemas.facts.catalogue import FACTS

DAY = date(2026, 7, 1)


def part(site: str | None, rows: int | None) -> LivePart:
    return LivePart("f", "f", site, "sessions", "f", "f", 1, None, None, None, accepted=rows)


def test_groups_hold_whole_sites_up_to_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(site_groups, "ROWS_AT_ONCE", 10)
    parts = [part("c", 11), part("a", 4), part("b", 3), part("a", 3), part(None, 99), part("d", 1)]
    assert site_groups.groups_of(parts) == [{"a", "b"}, {"c"}, {"d"}]
    assert site_groups.groups_of([part("b", 4), *parts]) == [{"a"}, {"b"}, {"c"}, {"d"}]
    assert site_groups.groups_of([part("a", None), part("b", 10)]) == [{"a", "b"}]
    assert site_groups.groups_of([]) == []


def in_part(site: str, rows: int, path: str) -> LivePart:
    return replace(part(site, rows), validated=Path(path))


def test_a_group_ends_where_a_part_ends_if_that_leaves_it_a_third(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(site_groups, "ROWS_AT_ONCE", 12)
    pairs = [in_part(site, 4, name) for site, name in zip("abcdef", "112233", strict=True)]
    assert site_groups.groups_of(pairs) == [{"a", "b"}, {"c", "d"}, {"e", "f"}]
    # One part reaches over all: groups are cut where they are full.
    over = [in_part(site, 4, "1") for site in "abcdef"]
    assert site_groups.groups_of(over) == [{"a", "b", "c"}, {"d", "e", "f"}]
    # The part ends after too few rows, and then after just enough.
    for least, groups in ((3, [{"a", "b", "c"}, {"d"}]), (4, [{"a"}, {"b", "c"}, {"d"}])):
        early = [in_part("a", least, "1"), *(in_part(site, 4, "2") for site in "bcd")]
        early.append(in_part("d", 1, "2"))
        assert site_groups.groups_of(early) == groups, least


def digests(warehouse: Path) -> dict[str, str]:
    with duckdb.connect(str(warehouse), read_only=True) as con:
        names = [*FACTS, "quarantined_row", "refused_value", "device_row_count", "contract_rule"]
        return {name: digest_of(con, name) for name in names}


def test_groups_give_what_one_build_gives(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(demo / "store")
    parts = [accounts.part_of(store, one) for one in ledgers.read_last(store).live()]
    at_once, grouped = tmp_path / "once.duckdb", tmp_path / "grouped.duckdb"
    assert len(site_groups.groups_of(parts)) == 1
    build.build_warehouse(at_once, parts, as_of=DAY, settings=Settings())
    monkeypatch.setattr(site_groups, "ROWS_AT_ONCE", 12_000)
    assert len(site_groups.groups_of(parts)) > 4
    build.build_warehouse(grouped, parts, as_of=DAY, settings=Settings())
    assert digests(grouped) == digests(at_once)


def test_a_site_without_a_file_keeps_what_reference_tables_say_of_it(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(demo / "store")
    live = [accounts.part_of(store, one) for one in ledgers.read_last(store).live()]
    kept = sorted({one.site_id for one in live if one.site_id})[:3]
    parts = [one for one in live if one.site_id is None or one.site_id in kept]
    at_once, grouped = tmp_path / "once.duckdb", tmp_path / "grouped.duckdb"
    build.build_warehouse(at_once, parts, as_of=DAY, settings=Settings())
    monkeypatch.setattr(site_groups, "ROWS_AT_ONCE", 1)
    assert len(site_groups.groups_of(parts)) == 3
    build.build_warehouse(grouped, parts, as_of=DAY, settings=Settings())
    with duckdb.connect(str(grouped), read_only=True) as con:
        told = con.execute("SELECT count(DISTINCT site_id) FROM calibration_line").fetchall()
    assert told[0][0] > 3
    assert digests(grouped) == digests(at_once)


@pytest.mark.parametrize("is_whole", [True, False])
def test_no_part_full_row_groups_are_joined(tmp_path: Path, is_whole: bool) -> None:
    with connect.writer(tmp_path / "some.duckdb", is_whole=is_whole) as con:
        asked = con.execute("SELECT current_setting('max_vacuum_tasks')")
        assert asked.fetchall() == [(0,)]
