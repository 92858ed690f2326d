"""Counts that follow a change are those of a whole count, whatever changed and in which order.

More seeds by command: SEEDS=40 python -m pytest -n 0 tests/warehouse/test_counting.py
"""

import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import polars as pl
import pytest

from pipeline.errors import RegistryError
from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import Measure, State, state_of
from pipeline.store.counts import KeptCounts, remove_counts
from pipeline.store.layout import Store
from pipeline.warehouse import carry, state
from pipeline.warehouse.counting import Counting, Plan
from pipeline.warehouse.state import order_of
from pipeline.warehouse.wearer_rows import WearerRows
from tests.warehouse.made_facts import GROUPS, wearer_of
from tests.warehouse.made_nights import (
    SITES,
    Keys,
    Rows,
    built,
    corrected,
    counted,
    fresh,
    grown,
    more_of,
    rows_of,
)

# Middles and thirds of the whole group decide these; among so few rows they move.
OF_MIDDLES = {
    "moisture_wearers", "routine_before_after", "cycle_cluster", "cycle_rescued", "cycle_returned",
}  # fmt: skip
Change = Callable[[dict[str, Rows], int, np.random.Generator], tuple[set[str], Keys]]


def changed_sites(
    sent: dict[str, Rows], night: int, rng: np.random.Generator
) -> tuple[set[str], Keys]:
    """Change what one or two sites sent: corrected, withdrawn, or with lines added."""
    sites = {str(site) for site in rng.choice(SITES, 1 + night % 2, replace=False)}
    for site in sorted(sites):
        kind = ("corrected", "withdrawn", "added")[int(rng.integers(3))]
        rows = rows_of(site, rng)
        if kind == "withdrawn":
            rows = {}
        elif kind == "added" and sent[site]:
            rows = more_of(sent[site], rows)
        sent[site] = rows
    return sites, ()


def changed_wearers(
    sent: dict[str, Rows], night: int, rng: np.random.Generator
) -> tuple[set[str], Keys]:
    """Change rows of wearers of every site; every other night all of one, events of another."""
    whole, of_events = (SITES[n] for n in rng.choice(len(SITES), 2, replace=False))
    sites = {whole} if night % 2 == 1 else set()
    wearers = set()
    for site in SITES:
        rows = rows_of(site, rng)
        if site in sites:
            sent[site] = rows
            continue
        group = int(rng.integers(GROUPS))
        own = {(site, wearer_of(site, 2 * group + n)) for n in range(2)}
        wearers |= own
        sent[site] = corrected(sent[site], rows, own)
    if sites:
        sent[of_events] |= {"service_event": rows_of(of_events, rng)["service_event"]}
    return sites, wearers


def nights(folder: Path, seed: int, count: int, change: Change) -> None:
    """Run increments, each compared with a whole build."""
    rng = np.random.default_rng(seed)
    sent = {site: rows_of(site, rng) for site in SITES}
    store = Store(folder / "store")
    store.prepare()
    built(store.warehouse, sent)
    tables, kept = fresh(), KeptCounts(store, {})
    counted(store.warehouse, tables, kept)
    for night in range(count):
        sites, wearers = change(sent, night, rng)
        target, whole = folder / f"next-{night}.duckdb", folder / f"whole-{night}.duckdb"
        shutil.copy(store.warehouse, target)
        grown(target, sent, sites, wearers)
        built(whole, sent)
        tables = fresh(dict(tables.known), frozenset(sites), rows_aside(wearers, store.warehouse))
        kept = KeptCounts(store, kept.now)
        found = counted(target, tables, kept, store.warehouse, frozenset(sites))
        as_whole = fresh()
        expected = counted(whole, as_whole, KeptCounts(store, {}))
        for query, frame in expected.items():
            assert found[query].schema == frame.schema, query
            if order_of(query) and state_of(query) != State("whole"):
                assert found[query].equals(frame), (seed, night, query)
        with duckdb.connect() as con:
            for query, frame in expected.items():
                both = [carry.counts_digest(con, {"": one}, "") for one in (found[query], frame)]
                assert both[0] == both[1], (seed, night, query)
        for name, sums in as_whole.known.items():
            assert tables.known[name] == sums, (seed, night, name)
        target.replace(store.warehouse)
    assert not of_aids_or_wearers(store)


def rows_aside(wearers: Keys, published: Path) -> WearerRows | None:
    """Return the rows of touched wearers; None where there are none."""
    if not wearers:
        return None
    keys = pl.DataFrame(sorted(wearers), schema=["site_id", "wearer_key"], orient="row")
    return WearerRows(keys, published)


def of_aids_or_wearers(store: Store) -> set[str]:
    """Return the keys of aids and wearers that kept counts tell in clear."""
    with duckdb.connect(str(store.warehouse), read_only=True) as con:
        keys = {
            key
            for name in ("wearer_key", "device_key", "device_id", "patient_id", "session_key")
            for (key,) in con.execute(f"SELECT DISTINCT {name} FROM session_aid").fetchall()
        }
    told: set[str] = set()
    for file in store.counts.glob("*.parquet"):
        rows = pl.read_parquet(file)
        for name in (n for n, kind in rows.schema.items() if kind == pl.String):
            told |= set(rows[name].drop_nulls())
    assert told
    return told & (keys - {None})


@pytest.mark.parametrize("change", [changed_sites, changed_wearers])
@pytest.mark.parametrize("seed", range(int(os.environ.get("SEEDS", "1"))))
def test_increments_in_any_order_count_what_a_whole_count_counts(
    tmp_path: Path, seed: int, change: Change, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed: dict[str, set[bool]] = {}
    changed = Counting._changed

    def noted(self: Counting, measure: Measure, query: str, plan: Plan, later: Any) -> pl.DataFrame:
        assert plan.scope is not None
        followed.setdefault(query, set()).add(plan.scope.has_wearers)
        return changed(self, measure, query, plan, later)

    monkeypatch.setattr(Counting, "_changed", noted)
    few = 3 if change is changed_sites else 2
    nights(tmp_path, seed, few if "SEEDS" not in os.environ else 10, change)
    states = {
        query: state_of(query) for measure in MEASURES
        for query in (*measure.queries, *measure.group_wide)
    }  # fmt: skip
    by_wearer = {query for query, state in states.items() if state.is_by_wearer}
    if change is changed_wearers:
        assert by_wearer - OF_MIDDLES <= {q for q, kinds in followed.items() if True in kinds}
    mergeable = {query for query, state in states.items() if state.kind != "whole"}
    assert len(mergeable) > 40
    if change is changed_sites:
        assert mergeable - OF_MIDDLES <= set(followed)


def frame(**columns: list[object]) -> pl.DataFrame:
    return pl.DataFrame(columns)


def test_sums_lose_what_some_sites_counted_and_gain_what_they_count() -> None:
    with duckdb.connect() as con:
        kept = frame(word=["a", "b", None], n=[5, 3, 2])
        old, new = frame(word=["a", "b"], n=[2, 3]), frame(word=["c", None], n=[4, 1])
        found = state.merged(con, ("word",), (kept, old, new), "word")
        assert found.rows() == [("a", 3), ("c", 4), (None, 3)]
        none = frame(n=[2])
        assert state.merged(con, (), (none, none, frame(n=[0])), "").rows() == [(0,)]


def test_rows_of_a_site_are_replaced_and_no_others() -> None:
    with duckdb.connect() as con:
        kept = frame(site_id=["site-a", "site-b", "site-c"], n=[1, 2, 3])
        new = frame(site_id=["site-b", "site-b"], n=[7, 8])
        found = state.replaced(con, kept, new, {"site-b", "site-c"}, "ALL")
        assert found.rows() == [("site-a", 1), ("site-b", 7), ("site-b", 8)]


def test_a_query_that_does_not_say_how_its_counts_follow_does_not_start(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    measure = next(one for one in MEASURES if one.name == "graded_rate")
    monkeypatch.setattr("pipeline.measures.measure.state_of", lambda _query: None)
    with pytest.raises(RegistryError, match=r"the state of graded_rate\.sql"):
        replace(measure)


@pytest.mark.parametrize(
    ("kind", "rows"),
    [
        (State("sums", ("word",)), frame(word=["a"], n=[0.5])),
        (State("sums", ("other",)), frame(word=["a"], n=[1])),
        (State("of site"), frame(word=["a"], n=[1])),
        (State("of site"), frame(site_id=["site-a", None], n=[1, 1])),
    ],
)
def test_rows_that_are_not_what_their_query_says_are_refused(
    kind: State, rows: pl.DataFrame
) -> None:
    with pytest.raises(RegistryError, match=r"some\.sql"):
        state.checked("some", kind, rows)


def test_counts_that_are_gone_or_damaged_are_none(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.prepare()
    kept = KeptCounts(store, {})
    name = kept.write("some", frame(n=[1, 2]))
    other = kept.write("other", frame(n=[3]))
    assert kept.read(name).equals(frame(n=[1, 2]))
    assert store.count(name).stat().st_mode & 0o777 == 0o600
    data = bytearray(store.count(name).read_bytes())
    data[len(data) // 2] ^= 1
    store.count(name).write_bytes(bytes(data))
    assert kept.read(name) is None
    assert kept.read("some-unheard") is None
    remove_counts(store, {"other": ["", "", other]})
    assert [file.stem for file in store.counts.iterdir()] == [other]
    remove_counts(store)
    assert not list(store.counts.iterdir())
