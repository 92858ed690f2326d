"""Since which run an item is listed: carried over while it stays, begun anew after a break."""

from pathlib import Path

import duckdb

from pipeline.warehouse.audit import date_items


def made(file: Path, *ids: str) -> Path:
    with duckdb.connect(str(file)) as con:
        con.execute("CREATE OR REPLACE TABLE attention_item (item_id VARCHAR, since_run VARCHAR)")
        for item in ids:
            con.execute("INSERT INTO attention_item VALUES (?, NULL)", [item])
    return file


def dates(file: Path) -> dict[str, str]:
    with duckdb.connect(str(file), read_only=True) as con:
        return dict(con.sql("SELECT item_id, since_run FROM attention_item").fetchall())


def test_a_first_run_dates_every_item(tmp_path):
    first = made(tmp_path / "1.duckdb", "a", "b")
    date_items(first, tmp_path / "none.duckdb", "run-1")
    assert dates(first) == {"a": "run-1", "b": "run-1"}


def test_an_item_keeps_its_run_until_it_is_cleared(tmp_path):
    runs = [made(tmp_path / f"{n}.duckdb", *ids) for n, ids in enumerate(("ab", "bc", "abc"))]
    date_items(runs[0], tmp_path / "none.duckdb", "run-1")
    date_items(runs[1], runs[0], "run-2")
    date_items(runs[2], runs[1], "run-3")
    assert dates(runs[1]) == {"b": "run-1", "c": "run-2"}
    assert dates(runs[2]) == {"a": "run-3", "b": "run-1", "c": "run-2"}


def test_a_warehouse_from_before_the_list_dates_nothing(tmp_path):
    old = tmp_path / "old.duckdb"
    with duckdb.connect(str(old)) as con:
        con.execute("CREATE TABLE site (site_id VARCHAR)")
    new = made(tmp_path / "new.duckdb", "a")
    date_items(new, old, "run-2")
    assert dates(new) == {"a": "run-2"}
