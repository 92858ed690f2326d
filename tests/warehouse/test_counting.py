"""Counts that follow a change are those of a whole count, whatever changed and in which order.

More seeds by command: SEEDS=40 python -m pytest -n 0 tests/warehouse/test_counting.py
"""

import os
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from pipeline.errors import RegistryError
from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import State, state_of
from pipeline.settings import Settings
from pipeline.store.counts import KeptCounts, remove_counts
from pipeline.store.layout import Store
from pipeline.warehouse import carry, state
from pipeline.warehouse.connect import create, insert, set_variables, writer
from pipeline.warehouse.counting import Counting, order_of
from schemas import macros
from schemas.audit.row_account import RowAccount
from schemas.declare import Table
from schemas.facts.catalogue import FACTS
from tests.warehouse.made_facts import made

SETTINGS, DAY = Settings(), date(2026, 7, 1)
NAMES = tuple(measure.name for measure in MEASURES)
SITES = ("site-a", "site-b", "site-c", "site-d", "site-e")
ROWS = {"session_aid": 70, "session": 70, "episode": 40, "device": 12, "site": 1}
OF_SITES = [table for name, table in FACTS.items() if name != "device_model"] + [
    RowAccount, *(measure.schema for measure in MEASURES)
]  # fmt: skip
Rows = dict[str, pl.DataFrame]


def rows_of(site: str, rng: np.random.Generator) -> Rows:
    """Return what one site sent: rows of every table that names sites."""
    tables = [table for table in OF_SITES if "site_id" in table.to_schema().columns]
    rows = {t.Config.name: made(t, site, ROWS.get(t.Config.name, 6), rng) for t in tables}
    boxes = rows["measurement_repeatability"].with_columns(pl.col("test_box_id").fill_null("box 1"))
    # A plan is of the whole group, and so would be a change of it.
    plan = rows["comparison_plan"].clear()
    return rows | {"measurement_repeatability": boxes, "comparison_plan": plan}


def more_of(before: Rows, rows: Rows) -> Rows:
    """Return what a site sent with the lines of another file added."""
    number = before["session_aid"].height
    own = [
        pl.format("{} of {}", name, pl.lit(number)).alias(name)
        for name in ("file_id", "session_key", "episode_id")
    ]
    return before | {
        name: pl.concat([
            before[name],
            rows[name].with_columns(
                one for one in own if one.meta.output_name() in rows[name].columns
            ),
        ])
        for name in ("session_aid", "service_event", "session")
    }  # fmt: skip


def put(con: duckdb.DuckDBPyConnection, table: type[Table], rows: pl.DataFrame) -> None:
    con.register("made_rows", rows)
    insert(con, table, "SELECT * FROM made_rows")
    con.unregister("made_rows")


def built(target: Path, sent: dict[str, Rows]) -> None:
    """Make a warehouse from nothing; the models and the pooled noise are of the whole group."""
    rng = np.random.default_rng(0)
    with writer(target) as con:
        for statement in macros.statements(11):
            con.execute(statement)
        for table in dict.fromkeys([*OF_SITES, FACTS["device_model"]]):
            create(con, table)
        for extra in ("quarantined_row", "refused_value"):
            con.execute(
                f"CREATE TABLE {extra} (file_id VARCHAR, table_name VARCHAR, line BIGINT,"
                " part_of_line BIGINT, row_json VARCHAR)"
            )
        con.execute("CREATE TABLE correction (site_id VARCHAR, line BIGINT, status VARCHAR)")
        put(con, FACTS["device_model"], made(FACTS["device_model"], "", 4, rng))
        pooled = next(m.schema for m in MEASURES if m.name == "measurement_repeatability")
        frame = made(pooled, "", 4, rng).with_columns(
            pl.lit(None, pl.String).alias("site_id"), pl.lit(None, pl.String).alias("test_box_id"),
            pl.Series("measure", ["hfa_gain", "hfa_ospl90", "thd", "ein"]),
        )  # fmt: skip
        put(con, pooled, frame.unique("measure", maintain_order=True))
        for rows in sent.values():
            for table in OF_SITES:
                if table.Config.name in rows:
                    put(con, table, rows[table.Config.name])


def grown(target: Path, changed: dict[str, Rows]) -> None:
    """Replace the rows of some sites in a copy."""
    with writer(target) as con:
        for site, rows in changed.items():
            for table in OF_SITES:
                name = table.Config.name
                if "site_id" in table.to_schema().columns:
                    con.execute(f"DELETE FROM {name} WHERE site_id = '{site}'")
                if name in rows:
                    put(con, table, rows[name])


def counted(
    target: Path, tables: carry.Tables, kept: KeptCounts, published: Path | None
) -> dict[str, pl.DataFrame]:
    """Count every measure in order, and fill; returns counts by query."""
    found = {}
    with writer(target) as con:
        set_variables(con, DAY, SETTINGS)
        counting = Counting(con, DAY, SETTINGS, tables, kept, published, MEASURES)
        for place, measure in enumerate(MEASURES):
            found |= counting.counts(measure, NAMES[place:])
            tables.written(measure.name, ())
            sites: frozenset[str] | None = frozenset()
            for name in measure.fills:
                filled = counting.fill(
                    measure, name, NAMES[place + 1 :], is_copy=published is not None
                )
                sites = None if filled is None or sites is None else sites | filled
            tables.written(measure.name, carry.filled_columns([measure]), sites=sites)
        counting.close()
    return found


def fresh(earlier: dict[str, carry.Sums], touched: frozenset[str] | None) -> carry.Tables:
    unfilled = carry.filled_columns(MEASURES)
    facts = [name for name in FACTS if name != "device_model"]
    return carry.Tables(
        unfilled=unfilled, earlier=earlier,
        touched={} if touched is None else dict.fromkeys(facts, touched),
    )  # fmt: skip


def nights(folder: Path, seed: int, count: int) -> list[int]:
    """Run increments, each compared with a whole build; returns how many counts were merged."""
    rng = np.random.default_rng(seed)
    sent = {site: rows_of(site, rng) for site in SITES}
    store = Store(folder / "store")
    store.prepare()
    built(store.warehouse, sent)
    tables, kept = fresh({}, None), KeptCounts(store, {})
    counted(store.warehouse, tables, kept, None)
    merged = []
    for night in range(count):
        changed: dict[str, Rows] = {}
        for site in rng.choice(SITES, 1 + night % 2, replace=False):
            kind = ("corrected", "withdrawn", "added")[int(rng.integers(3))]
            rows = rows_of(str(site), rng)
            if kind == "withdrawn":
                rows = {}
            elif kind == "added" and sent[str(site)]:
                rows = more_of(sent[str(site)], rows)
            changed[str(site)] = rows
        sent |= changed
        target, whole = folder / f"next-{night}.duckdb", folder / f"whole-{night}.duckdb"
        shutil.copy(store.warehouse, target)
        grown(target, changed)
        built(whole, sent)
        tables = fresh(dict(tables.known), frozenset(changed))
        kept = KeptCounts(store, kept.now)
        found = counted(target, tables, kept, store.warehouse)
        expected = counted(whole, fresh({}, None), KeptCounts(store, {}), None)
        for query, frame in expected.items():
            assert found[query].schema == frame.schema, query
            if order_of(query) and state_of(query) != State("whole"):
                assert found[query].equals(frame), (seed, night, query)
        with duckdb.connect() as con:
            assert carry.counts_digest(con, found, "") == carry.counts_digest(con, expected, "")
        for one in FACTS:
            with writer(target) as a, writer(whole) as b:
                assert carry.digest_of(a, one) == carry.digest_of(b, one), one
        merged.append(sum(entry != kept.before.get(q) for q, entry in kept.now.items()))
        target.replace(store.warehouse)
    assert not of_aids_or_wearers(store)
    return merged


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


@pytest.mark.parametrize("seed", range(int(os.environ.get("SEEDS", "1"))))
def test_increments_in_any_order_count_what_a_whole_count_counts(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed: list[str] = []
    changed = Counting._changed
    monkeypatch.setattr(
        Counting, "_changed",
        lambda self, measure, query, *more: (
            followed.append(query), changed(self, measure, query, *more)
        )[1],
    )  # fmt: skip
    nights(tmp_path, seed, 3 if "SEEDS" not in os.environ else 10)
    mergeable = {
        query for measure in MEASURES for query in (*measure.queries, *measure.group_wide)
        if state_of(query) != State("whole")
    }  # fmt: skip
    assert len(mergeable) > 40
    # Medians of all sites decide these; among so few rows they move.
    assert mergeable - set(followed) <= {"moisture_wearers", "routine_before_after"}


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
