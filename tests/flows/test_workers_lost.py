"""Workers and schedulers of Dask that are lost in the midst of a run: made to happen, by command.

`python -m pytest -m served tests/flows/test_workers_lost.py`
"""

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from distributed import Client

from pipeline import workers
from pipeline.commands.main import main
from pipeline.screening import batch, order
from tests.flows.line import Line, measure_only, sessions
from tests.flows.test_next_day import tables_of
from tests.flows.test_workers import Cluster

PATIENCE_S = 60


def slowed(folder: str, seconds: float) -> None:
    """Have a worker leave its process id, and wait, whenever it is given an order."""
    from pipeline import workers

    fulfil = workers.fulfil

    def slow(*given):
        Path(folder, str(os.getpid())).touch()
        time.sleep(seconds)
        return fulfil(*given)

    workers.fulfil = slow


class Losing:
    """A line, what it gives plainly, and a cluster whose workers take their time."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.line = Line(folder)
        for month in range(1, 5):
            self.line.write(f"site-a/sessions_2026-0{month}.csv", sessions(20 * month))
        self.line.refresh(capsys)
        self.plainly = tables_of(self.line.store)
        self.line.store = folder / "spread"
        self.busy = folder / "busy"
        self.busy.mkdir()
        self.cluster = Cluster(folder)
        self.client = Client(self.cluster.address, set_as_default=False)
        self.client.run(slowed, str(self.busy), 1.5)

    def at_work(self) -> list[int]:
        return [int(path.name) for path in self.busy.iterdir()]

    def refresh_while(self, happens: Callable[[], None]) -> int:
        """Refresh; once a worker has an order, something happens beside it."""

        def beside() -> None:
            deadline = time.monotonic() + PATIENCE_S
            while not self.at_work() and time.monotonic() < deadline:
                time.sleep(0.05)
            happens()

        thread = threading.Thread(target=beside)
        thread.start()
        line = self.line
        code = main(
            ["refresh", str(line.exports), "--store", str(line.store), "--plain",
             "--as-of", "2026-07-01", "--dask", self.cluster.address]
        )  # fmt: skip
        thread.join(PATIENCE_S)
        return code

    def kill_one(self) -> None:
        os.kill(self.at_work()[0], signal.SIGKILL)


@pytest.fixture
def losing(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Iterator[Losing]:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    monkeypatch.setattr(batch, "BYTES_AT_ONCE", 1)
    monkeypatch.setattr(order, "LEAST_BYTES", 1)
    measure_only(monkeypatch)
    # How often an order may take its worker with it before it is given up: three times by default.
    failures = str(getattr(request, "param", 3))
    monkeypatch.setenv("DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES", failures)
    made = Losing(tmp_path, capsys)
    capsys.readouterr()
    try:
        yield made
    finally:
        made.cluster.process.kill()
        made.cluster.process.communicate()
        with suppress(Exception):  # its scheduler is gone
            made.client.close(timeout=1)


def then_it_is_made_good(losing: Losing, capsys: pytest.CaptureFixture[str]) -> None:
    """What was told is plain, nothing was published or left, and a plain run gives all."""
    said = capsys.readouterr().err
    assert "Traceback" not in said and "distributed" not in said
    assert not (losing.line.store / "warehouse.duckdb").exists()
    assert not list(losing.line.store.glob("next-*"))
    losing.line.refresh(capsys)
    assert tables_of(losing.line.store) == losing.plainly


@pytest.mark.served
def test_the_order_of_a_worker_that_is_killed_goes_to_another(losing: Losing) -> None:
    assert losing.refresh_while(losing.kill_one) in {0, 3}
    assert tables_of(losing.line.store) == losing.plainly
    assert not list(losing.line.store.glob("next-*"))


@pytest.mark.served
@pytest.mark.parametrize("losing", [0], indirect=True)
def test_an_order_that_took_its_workers_too_often_ends_the_run_in_plain_words(
    losing: Losing, capsys: pytest.CaptureFixture[str]
) -> None:
    assert losing.refresh_while(losing.kill_one) == 1
    told = capsys.readouterr().err
    assert "the workers were lost" in told and "KilledWorker" in told
    then_it_is_made_good(losing, capsys)


@pytest.mark.served
def test_a_scheduler_that_is_lost_ends_the_run_in_plain_words(
    losing: Losing, capsys: pytest.CaptureFixture[str]
) -> None:
    assert losing.refresh_while(losing.cluster.process.kill) == 1
    told = capsys.readouterr()
    assert told.err.startswith("drytally: screening "), told.err
    assert f"the Dask scheduler at {losing.cluster.address} was lost" in told.err
    then_it_is_made_good(losing, capsys)


@pytest.mark.served
def test_a_scheduler_without_workers_is_told_in_plain_words(
    losing: Losing, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workers, "ANSWER_WITHIN_S", 2)
    losing.client.retire_workers(list(losing.client.ncores()))
    deadline = time.monotonic() + PATIENCE_S
    while losing.client.ncores():
        assert time.monotonic() < deadline
        time.sleep(0.1)
    losing.busy.joinpath("1").touch()
    assert losing.refresh_while(lambda: None) == 1
    assert "has no worker" in capsys.readouterr().err
    then_it_is_made_good(losing, capsys)
