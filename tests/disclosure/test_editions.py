"""Two editions: the group's own, with nothing hidden, and the one for passing on."""

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.commands.main import main
from pipeline.disclosure.rule import CountsPeople, CountsPeopleBeside, Rule, StaysInside
from pipeline.disclosure.suppress import OTHERS, suppress
from pipeline.errors import DrytallyError, UsageError
from pipeline.measures.catalogue import DISCLOSURE, MEASURES
from pipeline.publishing import PAGE_TABLES
from pipeline.sharing import SHARED_SCHEMAS
from pipeline.store.editions import in_force, of_next, refuse_other
from pipeline.store.ledger import Ledger
from reports.edition import told
from schemas.exports.catalogue import columns_of

# Columns in a unit of people that count none: how many aids lay in a chamber, and loads left out
# for the chamber they were dried in.
NOT_COUNTS = {
    ("moisture_distribution", "aids_in_chamber"),
    ("moisture_distribution", "left_out_uncalibrated"),
    ("moisture_centile", "left_out_uncalibrated"),
}
IDS = {"device_id", "patient_id", "session_id", "assessor_id", "wearer_key", "device_key",
       "file_id", "line", "row_json", "found"}  # fmt: skip


@pytest.fixture(scope="module")
def shared(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    into = tmp_path_factory.mktemp("passed on") / "edition"
    store = tmp_path_factory.mktemp("own") / "store"
    shutil.copytree(demo / "store", store)
    assert main(["share", "--store", str(store), "--into", str(into)]) == 0
    assert main(["share", "--store", str(store), "--into", str(into)]) == 0  # replaces its own
    return into


def test_every_table_says_how_it_is_shared() -> None:
    assert {item.name for item in MEASURES} == DISCLOSURE.keys()
    inside = {name for name, rule in DISCLOSURE.items() if isinstance(rule, StaysInside)}
    assert inside == {"stopped_aid"}
    assert set(PAGE_TABLES) | SHARED_SCHEMAS.keys() <= (DISCLOSURE.keys() | OTHERS) - inside
    assert not DISCLOSURE.keys() & OTHERS.keys()


@pytest.mark.parametrize("name", ["a_new_measure", "stopped_aid", "session_aid"])
def test_a_table_without_a_rule_is_refused(name: str) -> None:
    with pytest.raises(DrytallyError, match=name):
        suppress({name: pl.DataFrame({"n": [100]})}, 11, DISCLOSURE)
    if name in DISCLOSURE:
        with pytest.raises(DrytallyError, match="it names single aids"):
            suppress({name: pl.DataFrame()}, 11, DISCLOSURE)


def test_a_table_is_shared_after_those_it_rests_on() -> None:
    def told(frame: pl.DataFrame, others: Mapping[str, pl.DataFrame], _cell: int) -> pl.DataFrame:
        return frame.with_columns(pl.lit(others["late"]["n"].item()).alias("n"))

    rules: dict[str, Rule] = {
        "early": CountsPeopleBeside(told, rests_on=("late", "absent")),
        "late": CountsPeople(lambda frame, _cell: frame.with_columns(pl.lit(None).alias("n"))),
    }
    given = {name: pl.DataFrame({"n": [5]}) for name in ("early", "late")}
    shown = suppress(given, 11, rules)
    assert list(shown) == ["early", "late"]
    assert shown["early"]["n"].item() is None


def test_no_count_of_one_to_ten_people_is_in_the_shared_tables(shared: Path) -> None:
    checked = 0
    with duckdb.connect(str(shared / "measures.duckdb"), read_only=True) as con:
        tables = [name for (name,) in con.sql("SHOW TABLES").fetchall()]
        assert set(tables) == SHARED_SCHEMAS.keys()
        for table in tables:
            for spec in columns_of(SHARED_SCHEMAS[table]):
                if not spec.counts_people or (table, spec.name) in NOT_COUNTS:
                    continue
                small = con.sql(
                    f'SELECT count(*) FROM "{table}" WHERE "{spec.name}" BETWEEN 1 AND 10'
                ).fetchall()[0][0]
                assert small == 0, (table, spec.name)
                checked += 1
    assert checked > 60


def test_nothing_of_a_single_aid_or_file_is_in_the_shared_edition(shared: Path) -> None:
    with duckdb.connect(str(shared / "measures.duckdb"), read_only=True) as con:
        named = con.sql("SELECT table_name, column_name FROM duckdb_columns()").fetchall()
        commented = con.sql(
            "SELECT count(*) FROM duckdb_columns() WHERE comment IS NULL AND NOT internal"
        ).fetchall()
    assert not {column for table, column in named if table in SHARED_SCHEMAS} & IDS
    assert commented == [(0,)]
    files = {path.name for path in (shared / "tables").iterdir()}
    assert files == {"columns.csv"} | {
        f"{name}.{end}" for name in SHARED_SCHEMAS for end in ("csv", "parquet")
    }


def test_tables_carry_units(shared: Path) -> None:
    import pyarrow.parquet as pq

    fields = pq.read_schema(shared / "tables" / "rescue_rate.parquet")
    assert fields.field("rate").metadata[b"unit"] == b"share 0-1"
    told_columns = pl.read_csv(shared / "tables" / "columns.csv", infer_schema_length=None)
    assert {"table_name", "column_name", "unit", "description"} <= set(told_columns.columns)
    both = pl.read_csv(shared / "tables" / "rescue_rate.csv", infer_schema_length=None).height
    assert both == pq.read_metadata(shared / "tables" / "rescue_rate.parquet").num_rows


def test_each_edition_says_which_it_is(demo: Path, shared: Path) -> None:
    for page in sorted((shared / "dashboards").glob("*.html")):
        text = page.read_text(encoding="utf-8")
        assert "Shared edition." in text, page.name
        assert "Counts of 1 to 10 people are hidden" in text
    for page in sorted((demo / "dashboards").glob("*.html")):
        text = page.read_text(encoding="utf-8")
        assert "Inside edition." in text, page.name
        assert "n hidden" not in text or page.name == "methods.html", page.name
    about = json.loads((shared / "about.json").read_text(encoding="utf-8"))
    assert about["hidden"].startswith("counts of 1 to 10 people")


def test_editions_never_lie_in_one_folder(
    demo: Path, shared: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (shared / "dashboards" / "index.html").read_bytes()
    ask = ["render", "--store", str(demo / "store"), "--dashboards", str(shared / "dashboards")]
    assert main(ask) == 2
    assert "holds pages of the shared edition" in capsys.readouterr().err
    assert (shared / "dashboards" / "index.html").read_bytes() == before
    with pytest.raises(UsageError, match="inside edition"):
        refuse_other(demo / "dashboards", "shared")
    refuse_other(demo / "dashboards", "inside")
    refuse_other(None, "shared")
    refuse_other(demo / "no such folder", "shared")


def test_pages_without_a_mark_count_as_shared(tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("<html>", encoding="utf-8")
    refuse_other(tmp_path, "shared")
    with pytest.raises(UsageError, match="shared edition"):
        refuse_other(tmp_path, "inside")


def test_a_foreign_folder_and_the_store_are_refused(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    store = str(demo / "store")
    assert main(["share", "--store", store, "--into", str(tmp_path)]) == 2
    assert "holds something else" in capsys.readouterr().err
    assert main(["share", "--store", store, "--into", str(demo / "store" / "x")]) == 2
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "mine"


def test_a_new_store_shows_all_and_an_older_one_what_it_did() -> None:
    assert of_next(Ledger()) == "inside"
    assert of_next(Ledger(run_id="000007-x")) == "shared"
    assert of_next(Ledger(run_id="000007-x", edition="inside")) == "inside"
    old = Ledger(run_id="000007-x")
    assert in_force(old, None) == "shared"
    assert in_force(old, "inside") == "inside"
    assert in_force(old, "inside", "shared") == "shared"
    assert told({"edition": "inside"}, {})["id"] == "inside"
    assert told({}, {"smallest_cell": 1})["words"] == "No count is hidden, as set."
