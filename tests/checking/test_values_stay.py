"""What `check` shows at a terminal, or puts into a to-do list, is found nowhere else."""

import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.commands.main import main
from tests.clinics import front_desk
from tests.flows.line import AS_FLOW, Line
from tests.test_architecture import ROOT

SHOWN = ("weakk", "2026-02-31T09:00", "13/03/2026 09:30", "45 min", "4,25", "State before")
NEVER = ("Quillon", "Vexham", "07700", "SERIALQ77", "WEARERQ77")


def write(line: Line) -> Path:
    folder = line.exports / "site-a"
    folder.mkdir(exist_ok=True)
    text = front_desk.with_mistakes().replace(",A5,", ",SERIALQ77,").replace(",W7,", ",WEARERQ77,")
    (folder / "mapping.toml").write_text(front_desk.MAPPING, "utf-8")
    file = folder / front_desk.NAME
    file.write_text(text, "utf-8")
    return file


def test_values_shown_are_in_no_store_page_log_or_home(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    line = Line(tmp_path)
    file = write(line)
    todo = tmp_path / "desk" / "todo.xlsx"
    todo.parent.mkdir()
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    env = os.environ | {"PYTHONPATH": str(ROOT), "HOME": str(tmp_path / "home"),
                        "TMPDIR": str(temporary)}  # fmt: skip
    said = {}
    for command, code in (
        (["refresh", str(line.exports), "--store", str(line.store), "--dashboards",
          str(line.dashboards), "--as-of", "2026-07-01"], 3),
        (["check", str(file), "--show-values", "--to-do", str(todo), "--as-of", "2026-07-01",
          "--store", str(line.store)], 3),
    ):  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", AS_FLOW, *command], capture_output=True,
            timeout=600, check=False, cwd=ROOT, env=env,
        )  # fmt: skip
        assert done.returncode == code, done.stderr.decode()
        said[command[0]] = (done.stdout + done.stderr).decode()
    for value in SHOWN:
        assert value in said["check"], value
        assert value not in said["refresh"]
    assert not any(secret in text for secret in NEVER for text in said.values())
    assert list(temporary.iterdir()) == []
    places = (line.store, line.dashboards, tmp_path / "home", tmp_path / "conf")
    files = [p for place in places for p in place.rglob("*") if p.is_file()]
    assert any("prefect" in p.parts for p in files)
    for path in files:
        data = path.read_bytes()
        if path.suffix == ".parquet":
            data += pl.read_parquet(path).write_json().encode()
        for value in (*SHOWN, *NEVER):
            if value not in {"State before"} or line.store in path.parents:
                assert value.encode() not in data, (path.name, value)
    for (table,) in line.ask("SELECT table_name FROM duckdb_tables()"):
        rows = str(line.ask(f"SELECT * FROM {table}"))
        assert not any(value in rows for value in (*SHOWN, *NEVER)), table
    cells = [c.value for row in openpyxl.load_workbook(todo).active for c in row if c.value]
    assert "weakk" in cells and not any(secret in str(c) for secret in NEVER for c in cells)
    assert todo.stat().st_mode & 0o077 == 0


def test_a_to_do_list_lies_outside_exports_and_stores_and_is_no_export(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    line = Line(tmp_path)
    file = write(line)
    (line.store / "ledger").mkdir(parents=True)
    for place, told in (
        (line.exports / "site-a" / "sessions_todo.xlsx", "inside the exports folder"),
        (line.store / "todo.xlsx", "inside a store"),
        (tmp_path / "todo.csv", "ends in .xlsx"),
    ):
        assert main(["check", str(file), "--to-do", str(place)]) == 2
        assert told in capsys.readouterr().err
        assert not place.exists()
    other = tmp_path / "mine.xlsx"
    other.write_bytes(b"mine")
    assert main(["check", str(file), "--to-do", str(other)]) == 2
    todo = tmp_path / "sessions_todo.xlsx"
    for _ in range(2):  # one of its own is written anew
        assert main(["check", str(file), "--to-do", str(todo), "--as-of", "2026-07-01"]) == 3
    rows = list(openpyxl.load_workbook(todo).active.iter_rows(min_row=5, values_only=True))
    assert [row[1] for row in rows] == sorted(front_desk.MISTAKES)
    capsys.readouterr()
    todo.rename(line.exports / "site-a" / todo.name)
    assert main(["check", str(line.exports / "site-a" / todo.name)]) == 3
    assert "is a to-do list that check wrote, not an export" in capsys.readouterr().out
