"""TERM and INT at every stage: one plain line, soon, nothing left behind, the store intact."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.commands.stopping import descendants
from tests.busy import is_busy
from tests.faults.test_store import ROOT, arguments, change, count
from tests.flows.line import AS_FLOW, Line, measure_only, sessions

SOON_S = 10
# Each stands for one stage of a refresh, which is stopped in its midst.
STAGES = (
    "pipeline.stages.choose_sites", "pipeline.screening.batch.write_part",
    "pipeline.warehouse.build._load_sessions", "pipeline.publishing.run_measure",
    "pipeline.warehouse.publish.finish", "pipeline.warehouse.publish.publish",
    "reports.pages.page_texts",
)  # fmt: skip
# A child for each line of its standard input; a query of the engine or a sleep is under way.
STOPS = """
import importlib, os, signal, sys, time
import pipeline.flows, duckdb
from pipeline import publishing
from pipeline.commands.main import main
def stop(*_, **__):
    os.kill(os.getpid(), getattr(signal, name))
    if how == "query":
        duckdb.sql("SELECT sum(hash(i)) FROM range(1000000000000) AS t(i)").fetchall()
    time.sleep(60)
for line in sys.stdin:
    name, how, place = line.split()
    child = os.fork()
    if child == 0:
        module, _, function = place.rpartition(".")
        if module != "reports.pages":
            publishing.MEASURE_NAMES = publishing.MEASURE_NAMES[:1]
        holder = importlib.import_module(module)
        assert hasattr(holder, function), place
        setattr(holder, function, stop)
        os._exit(main(sys.argv[1:]))
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
WARNS = """
import logging, sys, warnings
from pipeline.commands import key, main
def run(given):
    warnings.warn("a library's news")
    logging.getLogger("some.library").warning("more of it")
    print("done")
    return 0
key.run = run
sys.argv = ["drytally", "key", "--store", "x"]
sys.exit(main.main())
"""
FAILS = WARNS.replace('print("done")', 'raise TypeError("a value: 1931-02-03")')


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    with pytest.MonkeyPatch.context() as patch:
        measure_only(patch)
        assert main(arguments(made)) == 0
    change(made, 15)
    return made


def test_a_stop_at_any_stage_is_one_line_and_the_next_run_finishes(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = "--dashboards", str(line.dashboards)
    given = [sys.executable, "-c", STOPS, *arguments(line, *drawn)]
    with subprocess.Popen(
        given, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True,
    ) as runs:  # fmt: skip
        assert runs.stdin is not None
        assert runs.stdout is not None
        assert runs.stderr is not None
        for at, place in enumerate(STAGES):
            name, how = (("SIGTERM", "query"), ("SIGINT", "sleep"))[at % 2]
            start = time.monotonic()
            print(name, how, place, file=runs.stdin, flush=True)
            assert runs.stdout.readline() == "1\n", (place, name)
            assert time.monotonic() - start < SOON_S + 50 * is_busy(), (place, name)
            assert runs.stderr.readline() == (
                f"drytally: stopped ({name}); what was published stays as it was\n"
            )
            assert count(line) == (12 if at < len(STAGES) - 1 else 15), (place, name)
        runs.stdin.close()
        assert runs.stderr.read() == ""
    measure_only(monkeypatch)
    assert main(arguments(line, *drawn)) in {0, 3}  # what needs attention is listed
    assert count(line) == 15
    assert list(line.store.glob("next-*")) == []
    capsys.readouterr()


@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT", "SIGKILL"])
def test_no_process_is_left_after_a_run_of_prefect_is_stopped(
    line: Line, tmp_path: Path, name: str
) -> None:
    given = [word for word in arguments(line) if word != "--plain"]
    run = subprocess.Popen(
        [sys.executable, "-c", AS_FLOW, *given],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    log = line.store / "prefect" / "server.log"
    deadline = time.monotonic() + 120
    while not (log.exists() and len(descendants(run.pid)) >= 2):
        assert run.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.05)
    started = descendants(run.pid)
    assert any(b"prefect" in Path(f"/proc/{p}/cmdline").read_bytes() for p in started)
    start = time.monotonic()
    run.send_signal(getattr(signal, name))
    out, err = run.communicate(timeout=60)
    if name != "SIGKILL":
        told = f"drytally: stopped ({name}); what was published stays as it was\n"
        assert (run.returncode, out, err) == (1, "", told)
    while [p for p in started if is_alive(p)]:
        assert time.monotonic() - start < SOON_S + 50 * is_busy()
        time.sleep(0.05)
    assert count(line) == 12


def is_alive(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text("utf-8").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_a_stopped_query_leaves_no_file_aside(line: Line, tmp_path: Path) -> None:
    out = tmp_path / "answers"
    out.mkdir()
    run = subprocess.Popen(
        [sys.executable, "-m", "pipeline.commands.main", "query", "--store", str(line.store),
         "SELECT lpad('x', 2000000000, 'y')", "--format", "csv", "--out", str(out / "a.csv")],
        cwd=ROOT, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    while not (list(out.iterdir()) and descendants(run.pid)):
        assert run.poll() is None
        time.sleep(0.02)
    [child] = descendants(run.pid)
    run.send_signal(signal.SIGTERM)
    assert "stopped (SIGTERM)" in run.communicate(timeout=30)[1]
    assert list(out.iterdir()) == []
    while is_alive(child):
        time.sleep(0.02)


@pytest.mark.parametrize(
    ("program", "told"),
    [(WARNS, ""), (FAILS, "a defect of the program (TypeError in main, line ")],
)
def test_neither_warnings_nor_traces_of_a_library_reach_a_user(program: str, told: str) -> None:
    env = {k: v for k, v in os.environ.items() if k not in {"PYTHONWARNINGS", "DRYTALLY_TRACE"}}
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT, env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == ((1, "") if told else (0, "done\n"))
    assert told in done.stderr
    assert bool(told) == bool(done.stderr)
    assert "Traceback" not in done.stderr
    assert "1931" not in done.stderr
    shutil.rmtree(ROOT / "x", ignore_errors=True)
