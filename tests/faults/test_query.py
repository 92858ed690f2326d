"""Statements and resource bombs from data files, sent at `query`: nothing read, written or held."""

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.commands.main import main
from pipeline.errors import QueryError, StoreError
from pipeline.warehouse.fence import fenced_query, one_reading_statement, open_fenced
from pipeline.warehouse.limited_query import MOST_MEMORY
from tests.test_architecture import ROOT

HERE = Path(__file__).parent
STATEMENTS = tomllib.loads((HERE / "query_statements.toml").read_text("utf-8"))
BOMBS = HERE / "query_bombs.toml"
PLANTED = "PLANTEDQ77"
# Each bomb through the limited process; the memory is that of the largest of them.
FIRES = """
import io, json, resource, sys, tempfile, time, tomllib
from pathlib import Path
from pipeline.errors import QueryError
from pipeline.warehouse.limited_query import ask
warehouse, timeout_s = Path(sys.argv[1]), float(sys.argv[3])
for sql in tomllib.loads(Path(sys.argv[2]).read_text("utf-8"))["sql"]:
    start, told = time.monotonic(), "answered"
    with tempfile.TemporaryFile() as out:
        try:
            ask(warehouse, sql, out, form="csv", timeout_s=timeout_s)
        except QueryError as error:
            told = error.problem
    spent = time.monotonic() - start
    print(json.dumps([sql, told, spent]), flush=True)
print(json.dumps(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024))
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store's warehouse, and files with a planted word beside it."""
    (tmp_path / "store" / "ledger").mkdir(parents=True)
    (tmp_path / "store" / "parts").mkdir()
    for name in ("store/warehouse.duckdb", "other.duckdb"):
        with duckdb.connect(str(tmp_path / name)) as con:
            con.execute("CREATE TABLE session (moisture_ul DOUBLE, cycle_minutes DOUBLE)")
            con.execute("INSERT INTO session VALUES (4.0, 60)")
            if name == "other.duckdb":
                con.execute(f"CREATE TABLE t AS SELECT '{PLANTED}' AS word")
    (tmp_path / "a.csv").write_text(f"word\n{PLANTED}\n")
    (tmp_path / "a.json").write_text(f'{{"word": "{PLANTED}"}}\n')
    (tmp_path / "key").write_text("5" * 64 + "\n")
    pl.DataFrame({"word": [PLANTED]}).write_parquet(tmp_path / "a.parquet")
    return tmp_path


def filled(sql: str, folder: Path) -> str:
    places = {
        "csv": "a.csv", "json": "a.json", "parquet": "a.parquet", "db": "other.duckdb",
        "key": "key", "out": "out",
    }  # fmt: skip
    for name, file in places.items():
        sql = sql.replace(f"{{{name}}}", str(folder / file))
    return sql.replace("{folder}", str(folder))


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def sent(connection: duckdb.DuckDBPyConnection, sql: str) -> str:
    """Send one statement as `query` does; returns its answer."""
    return str(connection.execute(one_reading_statement(connection, sql)).fetchall())


def test_hostile_and_odd_statements_read_and_write_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = folder / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.chdir(folder)
    planted = pl.DataFrame({"word": [PLANTED]})
    planted_list = [PLANTED]
    connection = open_fenced(folder / "store" / "warehouse.duckdb")
    before = contents(folder)
    through = []
    refused = [sql for group in STATEMENTS["refused"] for sql in group["sql"]]
    for sql in refused:
        try:
            told = sent(connection, filled(sql, folder))
        except (QueryError, duckdb.Error) as error:
            told = str(error) if PLANTED in str(error) else ""
        if told:
            through.append((sql, told[:200]))
    assert through == []
    unanswered = []
    for sql in STATEMENTS["answered"]["sql"]:
        try:
            assert PLANTED not in sent(connection, sql)
        except (QueryError, duckdb.Error) as error:
            unanswered.append((sql, str(error)))
    assert unanswered == []
    connection.close()
    assert contents(folder) == before
    assert len(refused) + len(STATEMENTS["answered"]["sql"]) >= 200
    assert planted.height == len(planted_list)


def test_resource_bombs_end_at_their_deadline_and_within_their_memory(folder: Path) -> None:
    timeout_s = 0.5
    done = subprocess.run(
        [sys.executable, "-c", FIRES, str(folder / "store" / "warehouse.duckdb"), str(BOMBS),
         str(timeout_s)],
        capture_output=True, text=True, cwd=ROOT, timeout=300, check=True,
    )  # fmt: skip
    *lines, peak = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(lines) == len(tomllib.loads(BOMBS.read_text("utf-8"))["sql"]) >= 45
    assert [line for line in lines if line[2] > timeout_s + 2] == []
    assert peak < MOST_MEMORY
    assert sum("stopped after" in told or "memory" in told for _, told, _ in lines) > 30


@pytest.fixture
def ask(folder: Path, monkeypatch: pytest.MonkeyPatch):
    """Run `query` against the store; returns its exit code."""
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(folder / "conf" / "identifier.key"))

    def run(sql: str, *more: str) -> int:
        return main(["query", sql, "--store", str(folder / "store"), *more])

    return run


def test_an_answer_goes_neither_into_a_store_nor_onto_a_key(
    ask, folder: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (folder / "conf").mkdir()
    (folder / "conf" / "identifier.key").write_text("not even hexadecimal")
    (folder / "second" / "ledger").mkdir(parents=True)
    (folder / "second" / "parts").mkdir()
    (folder / "link.csv").symlink_to(folder / "store" / "warehouse.duckdb")
    (folder / "door").symlink_to(folder / "store", target_is_directory=True)
    os.mkfifo(folder / "pipe.csv")
    before = contents(folder)
    places = {
        "store/warehouse.duckdb": "inside a store", "store/new.csv": "inside a store",
        "store/parts/x.csv": "inside a store", "second/x.csv": "inside a store",
        "door/x.csv": "inside a store", "conf/../store/x.csv": "inside a store",
        "conf/identifier.key": "a key", "key": "a key",
        "link.csv": "a link", "conf": "folder", "pipe.csv": "device",
    }  # fmt: skip
    for place, told in places.items():
        assert ask("SELECT 1 AS a", "--format", "csv", "--out", str(folder / place)) == 1, place
        assert told in capsys.readouterr().err, place
    assert contents(folder) == before


def test_an_answer_is_written_whole_or_the_file_stays_as_it_was(
    ask, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = folder / "out.csv"
    given = ("--format", "csv", "--out", str(out))
    assert ask("SELECT i FROM range(3) AS t(i)", *given) == 0
    assert out.read_text() == "i\n0\n1\n2\n"
    assert out.stat().st_mode & 0o077 == 0
    for sql in ("SELECT error('x')", "SELECT repeat('x', 4000000000)", "nonsense", "SELECT 1, 1"):
        assert ask(sql, *given) == 1
    assert ask("SELECT lpad('x', 2000000000, 'y')", *given, "--timeout", "0.3") == 1
    said = capsys.readouterr().err
    assert "stopped after 0.3 seconds" in said
    assert "Traceback" not in said
    assert out.read_text() == "i\n0\n1\n2\n"
    assert list(folder.glob(".drytally*")) == []
    for wrong in ("0", "-1", "nan", "inf"):
        assert ask("SELECT 1", "--timeout", wrong) == 2
    with pytest.raises(StoreError):
        fenced_query(folder / "none.duckdb", "SELECT 1")


def test_exports_keep_the_types_of_the_engine(
    ask, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = folder / "a.out"
    sql = (
        "SELECT NULL::DOUBLE AS empty, 99999999999999999999999999999999999999::HUGEINT AS wide,"
        " 'nan'::DOUBLE AS lost, [1.5, 'inf'::DOUBLE] AS listed, DATE '2026-01-02' AS day,"
        " '=1+1' AS formula"
    )
    assert ask(sql, "--format", "parquet", "--out", str(out)) == 0
    frame = pl.read_parquet(out)
    assert frame.schema["empty"] == pl.Float64
    assert str(frame["wide"][0]) == "9" * 38
    assert frame.schema["day"] == pl.Date
    capsys.readouterr()
    assert ask(sql, "--format", "json") == 0
    said = capsys.readouterr()

    def never(word: str) -> None:
        raise AssertionError(word)

    told = json.loads(said.out, parse_constant=never)
    assert told["rows"] == [[None, 10**38 - 1, None, [1.5, None], "2026-01-02", "=1+1"]]
    assert [c["type"] for c in told["columns"]][:3] == ["DOUBLE", "HUGEINT", "DOUBLE"]
    assert "2 values are no finite number" in said.err
    assert ask(sql, "--format", "csv") == 0
    assert capsys.readouterr().out.splitlines()[1].endswith("2026-01-02,'=1+1")
    for form in ("csv", "json", "parquet"):
        assert ask("SELECT 1 AS a, 2 AS a", "--format", form, "--out", str(out)) == 1
        assert "'a' more than once" in capsys.readouterr().err
    for unfit in ("170141183460469231731687303715884105727::HUGEINT", "INTERVAL 1 day", "'1'::BIT"):
        assert ask(f"SELECT {unfit} AS a", "--format", "parquet", "--out", str(out)) == 1
        assert "cannot be written as Parquet" in capsys.readouterr().err


@pytest.mark.parametrize(("rows", "is_cut"), [(10_000, False), (10_001, True)])
def test_a_table_shows_ten_thousand_rows_and_says_so(
    ask, capsys: pytest.CaptureFixture[str], rows: int, is_cut: bool
) -> None:
    assert ask(f"SELECT i FROM range({rows}) AS t(i)") == 0
    said = capsys.readouterr()
    assert said.out.endswith("(10000 rows)\n")
    assert ("--format csv" in said.err) is is_cut
