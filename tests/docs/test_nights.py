"""What the guide for whoever runs it says is so: timer, cron line, log, backup and restore."""

import configparser
import json
import logging
import re
import shlex
import shutil
import stat
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.store import log
from pipeline.store.acknowledged import Acknowledgement, write_acknowledged
from pipeline.store.layout import Store
from tests.flows.line import Line, measure_only, sessions

ROOT = Path(__file__).parents[2]
NIGHTS = ROOT / "docs" / "nights"
GUIDE = (ROOT / "docs" / "nights.md").read_text(encoding="utf-8")
NIGHTLY = re.findall(r"```sh\n(drytally refresh .*?)\n```", GUIDE)[0]


def unit(name: str) -> configparser.ConfigParser:
    read = configparser.ConfigParser(strict=True, interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read(NIGHTS / name)
    return read


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    measure_only(monkeypatch)
    made = Line(tmp_path)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    return made


def here(command: str, folder: Path) -> str:
    """Put a folder of this test in the place of the guide's, and this program in its own."""
    program = f"{sys.executable} -m pipeline.commands.main"
    command = command.replace("/opt/drytally/.venv/bin/drytally", program)
    command = re.sub(r"(?<![/\w])drytally (?=refresh|status|rebuild|query)", program + " ", command)
    return command.replace("/srv/drytally", str(folder)).replace(
        "/etc/drytally/identifier.key", str(folder / "conf" / "identifier.key")
    )


def shell(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-c", here(command, folder)], cwd=ROOT, capture_output=True, text=True, check=False
    )  # fmt: skip


def test_timer_and_cron_run_the_command_of_the_guide() -> None:
    service = unit("drytally.service")["Service"]
    bare = service["ExecStart"].removeprefix("/opt/drytally/.venv/bin/")
    assert bare == NIGHTLY
    entry = (NIGHTS / "drytally.cron").read_text(encoding="utf-8").splitlines()[-1]
    words = entry.split(None, 6)
    assert len(words[:5]) == 5
    assert words[5] == "drytally"  # the user
    setting, _, command = words[6].partition(" ")
    assert setting == service["Environment"]
    assert command == service["ExecStart"]
    assert unit("drytally.timer")["Timer"]["OnCalendar"] == "*-*-* 02:15:00"
    assert service["UMask"] == "0077"


def test_the_units_pass_the_service_managers_own_check(tmp_path: Path) -> None:
    checker = shutil.which("systemd-analyze")
    if checker is None:  # a machine without it still parses them above
        assert unit("drytally.timer").sections() == ["Unit", "Timer", "Install"]
        return
    program = tmp_path / "drytally"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    for name in ("drytally.service", "drytally.timer"):
        text = (NIGHTS / name).read_text(encoding="utf-8")
        text = text.replace("/opt/drytally/.venv/bin/drytally", str(program))
        (tmp_path / name).write_text(text, encoding="utf-8")
    said = subprocess.run(
        [checker, "verify", *(str(tmp_path / n) for n in ("drytally.service", "drytally.timer"))],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    told = [row for row in said.stderr.splitlines() if "drytally" in row]
    assert told == []


def test_the_cron_line_runs_and_says_only_what_waits(line: Line, tmp_path: Path) -> None:
    entry = (NIGHTS / "drytally.cron").read_text(encoding="utf-8").splitlines()[-1]
    command = entry.split(None, 6)[6].replace("--quiet", "--quiet --plain")
    first = shell(command, tmp_path)
    assert first.returncode == 3, first.stderr  # its chamber was never checked
    assert "Needs attention: " in first.stdout
    assert (tmp_path / "dashboards" / "index.html").exists()
    state = re.findall(r"```sh\n(drytally status .*?)\n```", GUIDE)[0]
    assert shell(state, tmp_path).returncode == 0
    assert (tmp_path / "status.code").read_text(encoding="utf-8") == "3\n"
    items = json.loads((tmp_path / "status.json").read_text(encoding="utf-8"))["attention"]
    known = Store(line.store)
    write_acknowledged(known, [
        Acknowledgement(item["item_id"], date.max, "known", date(2026, 1, 1)) for item in items
    ])  # fmt: skip
    quiet = shell(command, tmp_path)
    assert (quiet.returncode, quiet.stdout, quiet.stderr) == (0, "", "")


def test_a_run_leaves_its_lines_in_the_log(line: Line, capsys: pytest.CaptureFixture[str]) -> None:
    line.refresh(capsys)
    file = log.log_file(Store(line.store))
    rows = file.read_text(encoding="utf-8").splitlines()
    run_id = line.ask("SELECT run_id FROM refresh_run")[0][0]
    assert all(re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ (INFO|WARNING|ERROR) ", r) for r in rows)
    assert any(f" {run_id} " in row and "14 rows read" in row for row in rows), rows
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    line.write("site-a/sessions_2026-01.csv", [{"started_at": "2026-01-01"}])
    line.refresh(capsys)
    assert " WARNING " in file.read_text(encoding="utf-8")
    (line.store / "drytally.toml").write_text("smallest_cell = 'x'", encoding="utf-8")
    assert line.refresh(capsys)[0] == 1
    last = file.read_text(encoding="utf-8").splitlines()[-1]
    assert " ERROR " in last
    assert "smallest_cell" in last


def test_log_files_take_turns(tmp_path: Path) -> None:
    store = Store(tmp_path)
    for number in range(8):
        log.write_log(store, f"{number:06d}-x", logging.INFO, ["word " * 60_000] * 4)
    files = sorted((tmp_path / "log").iterdir())
    assert len(files) == 1 + log.EARLIER_FILES
    assert all(file.stat().st_size <= log.MOST_BYTES for file in files)
    newest = log.log_file(store).read_text(encoding="utf-8").splitlines()[-1]
    assert newest.split()[2] == "000007-x"


def test_a_disk_that_takes_no_log_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "log").write_text("a file where the folder should be", encoding="utf-8")
    log.write_log(Store(tmp_path), "r", logging.INFO, ["x"])


def test_a_restore_is_proved_as_the_guide_says(
    line: Line, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    restored = tmp_path / "restored"
    named = re.findall(r"`STORE/([\w.]+)`", GUIDE.partition("Copy, in this order")[2])
    assert named[:3] == ["parts", "ledger", "erased.json"]
    restored.mkdir()
    for name in named:
        kept = line.store / name
        if kept.is_dir():
            shutil.copytree(kept, restored / name)
        elif kept.exists() and name != "warehouse.duckdb":
            shutil.copy(kept, restored / name)
    proof = re.findall(r"```sh\n(drytally rebuild .*?)\n```", GUIDE, re.DOTALL)[0].splitlines()
    capsys.readouterr()
    for command in proof:
        words = shlex.split(command.replace("/srv/drytally", str(tmp_path)))
        assert main(words[1:]) in {0, 3}
    assert capsys.readouterr().out.splitlines()[-1] == "12"
    assert (restored / "warehouse.duckdb").exists()
