"""Faults of the store and of the process: a kill, a full disk, damage, another process."""

import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline import stages
from pipeline.commands.main import main
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh
from tests.busy import is_busy
from tests.flows.line import Line, measure_only, sessions

PLACE = "Übersicht der Häuser 耳"  # a space and other letters in every path
ROOT = Path(__file__).parents[2]
# Each stands for one moment of a refresh; its process dies there as by kill -9.
MOMENTS = (
    ("pipeline.screening.batch", "write_part"),
    ("pipeline.warehouse.build", "_load_sessions"),
    ("pipeline.warehouse.publish", "publish"),
    ("reports.pages", "page_texts"),
)
# For each moment on its standard input, a child that refreshes and dies: imports take seconds.
DIES = """
import importlib, os, signal, sys
import pipeline.flows
from pipeline import publishing
from pipeline.commands.main import main
def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)
for line in sys.stdin:
    module, name = line.split()
    child = os.fork()
    if child == 0:
        if module != "reports.pages":  # measures are of use to pages alone
            publishing.MEASURE_NAMES = ()
        setattr(importlib.import_module(module), name, die)
        os._exit(main(sys.argv[1:]))
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
LIMITED = """
import resource, sys
from pipeline.commands.main import main
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
sys.exit(main(sys.argv[2:]))
"""
READS = """
import sys, duckdb
con = duckdb.connect(sys.argv[1], read_only=True)
print(con.execute("SELECT count(*) FROM session_aid").fetchall()[0][0], flush=True)
sys.stdin.readline()
print(con.execute("SELECT count(*) FROM session_aid").fetchall()[0][0], flush=True)
"""


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a key, exports, and a store with twelve sessions and no measures."""
    folder = tmp_path_factory.mktemp("loaded")
    with pytest.MonkeyPatch.context() as patch:
        measure_only(patch)
        patch.setenv("DRYTALLY_KEY_FILE", str(folder / "conf" / "identifier.key"))
        made = Line(folder / PLACE)
        made.write("site-a/sessions_2026-01.csv", sessions(12))
        assert made_once(made) == 0
    return folder


@pytest.fixture
def line(loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    """A copy of that folder; no measure is computed."""
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    shutil.copytree(loaded, tmp_path, dirs_exist_ok=True)
    return Line(tmp_path / PLACE)


def made_once(line: Line, *more: str) -> int:
    return main(arguments(line, *more))


def arguments(line: Line, *more: str) -> list[str]:
    return [
        "refresh", str(line.exports), "--store", str(line.store), "--plain", "--as-of",
        "2026-07-01", *more,
    ]  # fmt: skip


def started(program: str, *given: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program, *given],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def count(line: Line) -> int:
    return int(str(line.ask("SELECT count(*) FROM session_aid")[0][0]))


def change(line: Line, rows: int) -> None:
    line.write("site-a/sessions_2026-01.csv", sessions(rows))


def pages_run(line: Line) -> str:
    newest = max((line.store / "ledger").glob("*.json"))
    return str(json.loads(newest.read_text(encoding="utf-8"))["pages_run_id"])


def test_a_kill_at_any_moment_leaves_the_old_or_the_new_warehouse(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    change(line, 15)
    drawn = "--dashboards", str(line.dashboards)
    with subprocess.Popen(
        [sys.executable, "-c", DIES, *arguments(line, *drawn)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as runs:  # fmt: skip
        assert runs.stdin is not None
        assert runs.stdout is not None
        for module, name in MOMENTS:
            print(module, name, file=runs.stdin, flush=True)
            assert runs.stdout.readline() == f"{-signal.SIGKILL}\n", (module, name)
            wanted = 15 if module == "reports.pages" else 12
            assert count(line) == wanted, (module, name)
        runs.stdin.close()
    assert made_once(line, *drawn) in {0, 3}  # what needs attention is listed
    assert count(line) == 15
    run = line.ask("SELECT run_id FROM refresh_run ORDER BY sequence DESC LIMIT 1")[0][0]
    assert pages_run(line) == run
    assert run in (line.dashboards / "index.html").read_text(encoding="utf-8")
    assert list(line.store.glob("next-*")) == []
    assert list(line.store.glob("parts/*/*.tmp")) == []
    # The same rows as without any kill.
    left = line.ask("SELECT * EXCLUDE (file_id) FROM session_aid ORDER BY ALL")
    assert main(["rebuild", "--store", str(line.store), "--rescreen", str(line.exports)]) == 0
    assert line.ask("SELECT * EXCLUDE (file_id) FROM session_aid ORDER BY ALL") == left
    capsys.readouterr()


def test_what_a_killed_run_spilled_is_removed(line: Line) -> None:
    """A kill while a query spills leaves a folder beside the warehouse it was building."""
    spill = line.store / "next-000002-20260701T000000Z.spill"
    spill.mkdir()
    (spill / "duckdb_temp_1_0_storage_DEFAULT-0.tmp").write_bytes(b"rows")
    change(line, 15)
    assert made_once(line) == 0
    assert count(line) == 15
    assert list(line.store.glob("next-*")) == []


@pytest.mark.parametrize("limit", [2_000, 60_000])
def test_a_limit_on_file_sizes_is_told_and_leaves_the_old_warehouse(line: Line, limit: int) -> None:
    change(line, 15)
    done = started(LIMITED, str(limit), *arguments(line))
    assert done.returncode == 1, done.stderr
    assert "drytally:" in done.stderr
    assert "Traceback" not in done.stderr
    assert count(line) == 12
    assert made_once(line) == 0
    assert count(line) == 15


def test_a_full_disk_is_told_with_what_is_needed(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = os.statvfs(line.store)
    change(line, 15)
    with monkeypatch.context() as patch:
        little = os.statvfs_result((*real[:3], real[3], 10, *real[5:]))
        patch.setattr(stages.os, "statvfs", lambda _path: little)
        assert made_once(line) == 1
    said = capsys.readouterr().err
    assert "no space: needs about" in said
    assert "MB free" in said
    assert count(line) == 12
    assert made_once(line) == 0
    assert count(line) == 15


def test_a_reader_keeps_its_warehouse_during_a_refresh(line: Line) -> None:
    path = str(line.store / "warehouse.duckdb")
    with subprocess.Popen(
        [sys.executable, "-c", READS, path],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as reader:  # fmt: skip
        assert reader.stdout is not None
        assert reader.stdout.readline() == "12\n"
        change(line, 15)
        assert made_once(line) == 0
        assert reader.communicate("\n", timeout=30)[0] == "12\n"
    assert count(line) == 15


def test_a_second_refresh_says_which_process_runs(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    change(line, 15)
    with one_refresh(Store(line.store)):
        assert made_once(line) == 1
    assert f"(process {os.getpid()})" in capsys.readouterr().err
    assert count(line) == 12


def test_a_lock_left_by_a_dead_process_is_taken_over(line: Line) -> None:
    (line.store / "refresh.lock").write_text("999999\n")
    change(line, 15)
    assert made_once(line) == 0
    assert count(line) == 15


def test_a_log_beside_the_warehouse_never_gets_below_a_new_one(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """A small change would go into a copy: it must not be a copy without its log."""
    log = line.store / "warehouse.duckdb.wal"
    log.write_bytes(b"left by another program")
    change(line, 15)
    assert made_once(line) == 3
    assert "another program wrote beside the published warehouse" in capsys.readouterr().out
    assert main(["rebuild", "--store", str(line.store)]) == 0
    assert not log.exists()
    assert made_once(line) in {0, 3}
    assert count(line) == 15


@pytest.mark.parametrize("fault", ["flipped", "cut", "gone"])
def test_a_damaged_part_is_found_named_and_screened_again(
    line: Line, capsys: pytest.CaptureFixture[str], fault: str
) -> None:
    part = max(
        (line.store / "parts" / "validated").glob("*.parquet"), key=lambda p: p.stat().st_size
    )
    whole = part.read_bytes()
    at = len(whole) // 2
    damaged = {"flipped": whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :], "cut": whole[:at]}
    if fault == "gone":
        part.unlink()
    else:
        part.write_bytes(damaged[fault])
    assert main(["rebuild", "--store", str(line.store)]) == 1
    said = capsys.readouterr().err
    assert "site-a/sessions_2026-01.csv" in said
    assert "--rescreen" in said
    assert count(line) == 12
    assert main(["rebuild", "--store", str(line.store), "--rescreen", str(line.exports)]) == 0
    assert part.read_bytes() == whole
    assert count(line) == 12


def test_a_store_of_a_newer_version_is_refused(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    newest = max((line.store / "ledger").glob("*.json"))
    content = json.loads(newest.read_text(encoding="utf-8"))
    newest.write_text(json.dumps(content | {"ledger_version": 99}), encoding="utf-8")
    change(line, 15)
    assert made_once(line) == 1
    assert "newer drytally" in capsys.readouterr().err
    assert count(line) == 12


def test_a_clock_that_went_back_does_not_change_the_order_of_runs(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Earlier(stages.datetime):
        @classmethod
        def now(cls, tz=None):
            return stages.datetime(2020, 1, 1, tzinfo=tz)

    monkeypatch.setattr(stages, "datetime", Earlier)
    change(line, 15)
    assert made_once(line) == 0
    assert count(line) == 15
    runs = line.ask("SELECT sequence, started_at_utc FROM refresh_run ORDER BY sequence")
    assert [row[0] for row in runs][-1] == 2


@pytest.mark.parametrize("where", ["a file", "below a file"])
def test_a_store_that_cannot_be_a_folder_is_told_before_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], where: str
) -> None:
    line = Line(tmp_path)
    file = tmp_path / "taken"
    file.write_text("x")
    store = file if where == "a file" else file / "store"
    code = main(["refresh", str(line.exports), "--store", str(store), "--plain"])
    said = capsys.readouterr().err
    assert code == 1
    assert "cannot be prepared" in said
    assert "Nothing was read or changed." in said


def test_a_missing_exports_folder_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["refresh", str(tmp_path / "none"), "--store", str(tmp_path / "store"), "--plain"])
    assert code in {1, 2}
    assert "none" in capsys.readouterr().err
    assert not (tmp_path / "store").exists()


def test_an_unusable_home_of_prefect_is_told_within_two_seconds(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from pipeline import orchestration

    change(line, 15)
    monkeypatch.setattr("pipeline.commands.refresh.FEW_BYTES", 0)
    real = os.access
    monkeypatch.setattr(
        orchestration.os, "access", lambda path, mode: path.name != "prefect" and real(path, mode)
    )
    given = [word for word in arguments(line) if word != "--plain"]
    start = time.perf_counter()
    assert main(given) == 1
    assert time.perf_counter() - start < 2 + 20 * is_busy()
    said = capsys.readouterr().err
    assert "Prefect's home" in said
    assert "--plain" in said
    assert count(line) == 12


def test_the_limits_of_this_test_run_do_not_hide_a_fault() -> None:
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
