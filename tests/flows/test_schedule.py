"""A Prefect server of the user's own on loopback: it keeps the record, and starts the refresh."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest

from pipeline.commands.main import main
from pipeline.commands.stopping import descendants
from tests.faults.test_signals import is_alive
from tests.flows.line import Line, sessions

ROOT = Path(__file__).parents[2]
PATIENCE_S = 180
# Without measures: what is looked at is who starts it and what is kept of it.
COMMAND = """
import sys
from pipeline import publishing
from pipeline.commands.main import main
publishing.MEASURE_NAMES = ()
sys.exit(main())
"""


class Server:
    """A server that is the user's, with its home beside nothing of ours."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{port}/api"
        self.env = os.environ | {
            "PREFECT_HOME": str(folder / "prefect-home"), "PREFECT_API_URL": self.url,
            "PREFECT_RUNNER_POLL_FREQUENCY": "1", "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
            "PREFECT_UI_ENABLED": "0", "DRYTALLY_KEY_FILE": str(folder / "conf" / "key"),
            "PYTHONPATH": str(ROOT),
        }  # fmt: skip
        self.process = subprocess.Popen(
            [sys.executable, "-m", "uvicorn", "--factory", "prefect.server.api.server:create_app",
             "--host", "127.0.0.1", "--port", str(port), "--log-level", "error"],
            env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self.others = [self.process]
        until(self.answers)

    def answers(self) -> bool:
        assert self.process.poll() is None
        try:
            return httpx.get(f"{self.url}/health", timeout=5).status_code == 200
        except httpx.HTTPError:
            return False

    def ask(self, path: str, **given: object) -> list[dict]:
        """Ask the server, again where its one database is busy."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            answer = httpx.post(f"{self.url}/{path}", json=given, timeout=60)
            if answer.status_code < 500 or time.monotonic() > deadline:
                assert answer.is_success, (path, answer.text)
                return answer.json()
            time.sleep(1)


def until(told: Callable[[], object]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not told():
        assert time.monotonic() < deadline
        time.sleep(0.1)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    made = Server(tmp_path)
    try:
        yield made
    finally:
        for process in made.others:
            process.kill()
            process.communicate()


@pytest.mark.served
def test_a_users_server_keeps_the_record_and_starts_the_refresh(
    server: Server, tmp_path: Path
) -> None:
    line = Line(tmp_path)
    line.write("site-a/sessions_2026-01.csv", sessions(12))
    given = [str(line.exports), "--store", str(line.store), "--dashboards", str(line.dashboards)]
    run = subprocess.Popen(
        [sys.executable, "-c", COMMAND, "schedule", *given, "--at", "4:05", "--timezone",
         "Europe/London", "--name", "night"],
        env=server.env, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    server.others.append(run)
    assert run.stderr is not None
    assert run.stderr.readline() == (
        "drytally: serving drytally/night: 5 4 * * * (Europe/London); end it with TERM or Ctrl-C\n"
    )
    [deployment] = server.ask("deployments/filter")
    [schedule] = deployment["schedules"]
    assert schedule["schedule"]["cron"] == "5 4 * * *"
    assert schedule["schedule"]["timezone"] == "Europe/London"
    assert deployment["parameters"]["store"] == str(line.store)
    server.ask(f"deployments/{deployment['id']}/create_flow_run", name="asked for")

    def state() -> dict[str, str]:
        found = server.ask("flow_runs/filter", flow_runs={"name": {"any_": ["asked for"]}})
        return dict(found[0]["state"])

    until(lambda: state()["type"] in {"COMPLETED", "FAILED", "CRASHED", "CANCELLED"})
    assert state()["name"] in {"Completed", "NeedsAttention"}, state()
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]
    assert (line.dashboards / "index.html").exists()
    assert not list((line.store / "prefect").iterdir())
    until(lambda: len(server.ask("task_runs/filter")) >= 4)
    named = {one["name"]: one["tags"] for one in server.ask("task_runs/filter")}
    assert named["dryers, sessions of site-a, 2 files"] == ["site-a"]
    accounts = {one["key"]: one for one in server.ask("artifacts/filter")}
    assert {"row-account", "row-account-by-site"} <= accounts.keys()
    assert '"site-a"' in str(accounts["row-account-by-site"]["data"])

    started = descendants(run.pid)
    run.send_signal(signal.SIGTERM)
    out, err = run.communicate(timeout=60)
    assert (run.returncode, err) == (
        1, "drytally: stopped (SIGTERM); what was published stays as it was\n",
    )  # fmt: skip
    assert "Traceback" not in out
    until(lambda: not any(is_alive(process) for process in started))


@pytest.mark.parametrize(
    ("named", "more", "told"),
    [
        ("", (), "a schedule needs a Prefect server of yours, and none is named"),
        ("http://127.0.0.1:1/api", ("--at", "24:00"), "'24:00' is no time of day"),
        ("http://127.0.0.1:1/api", ("--at", "23:60"), "'23:60' is no time of day"),
        ("http://127.0.0.1:1/api", ("--dashboards", "exports/pages"), "inside the exports folder"),
    ],
)
def test_a_schedule_that_cannot_be_served_is_told(
    named: str, more: tuple[str, ...], told: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PREFECT_API_URL", named)
    Line(tmp_path)
    assert main(["schedule", "exports", "--store", "store", *more]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "store").exists()
