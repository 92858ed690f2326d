"""Screening on two workers of a Dask scheduler: the same parts, facts and measures."""

import dataclasses
import json
import os
import pickle
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pipeline import flows, stages, workers
from pipeline.commands.main import main
from pipeline.errors import KeyFileError, StoreError
from pipeline.intake.find import find_files
from pipeline.intake.key import fingerprint
from pipeline.screening import batch, order
from pipeline.settings import Settings
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger
from tests.flows.line import SITE, Line, measure_only, sessions
from tests.flows.test_next_day import tables_of

ROOT = Path(__file__).parents[2]
CLUSTER = """
import sys
from distributed import LocalCluster
cluster = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True)
print(cluster.scheduler_address, flush=True)
sys.stdin.read()
print(cluster.get_logs(), flush=True)
cluster.close()
"""


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    """Two sites with the same local ids, and a batch for every file."""
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    monkeypatch.setattr(batch, "BYTES_AT_ONCE", 1)
    monkeypatch.setattr(order, "LEAST_BYTES", 1)
    measure_only(monkeypatch, "rescue_rate")
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b"}])
    made.write(
        "reference/dryers.csv", [{"site_id": s, "dryer_id": "D1"} for s in ("site-a", "site-b")]
    )
    for site in ("site-a", "site-b"):
        for month in (1, 2, 3):
            made.write(f"{site}/sessions_2026-0{month}.csv", sessions(20 * month))
    made.write("site-b/sessions_2026-04.csv", sessions(5, started_at="soon"))
    return made


class Cluster:
    """A scheduler and two workers in processes of their own, with the key in another file."""

    def __init__(self, folder: Path) -> None:
        own = folder / "worker.key"
        shutil.copy(os.environ["DRYTALLY_KEY_FILE"], own)
        self.process = subprocess.Popen(
            [sys.executable, "-c", CLUSTER], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT, text=True,
            env=os.environ | {"DRYTALLY_KEY_FILE": str(own), "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()

    def end(self) -> str:
        """End it and return all that it and its workers logged."""
        return self.process.communicate(timeout=60)[0]


@pytest.fixture
def cluster(line: Line, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Iterator[Cluster]:
    line.refresh(capsys)
    made = Cluster(tmp_path)
    try:
        yield made
    finally:
        made.process.kill()
        made.process.communicate()


def ledger_of(store: Path) -> dict[str, Any]:
    return json.loads(sorted((store / "ledger").glob("*.json"))[-1].read_text(encoding="utf-8"))


def test_two_workers_give_the_same_parts_facts_and_measures(
    line: Line, cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    plainly = line.store
    line.store = tmp_path / "spread"

    def never(*_: object) -> None:
        raise AssertionError("an order was fulfilled here")

    with monkeypatch.context() as elsewhere:
        elsewhere.setattr(flows, "fulfil", never)
        code, outcome = line.refresh(capsys, "--dask", cluster.address)
    assert code in {0, 3}, outcome
    assert outcome["totals"]["rows_read"] == 245 + 4  # sites and dryers
    assert outcome["totals"]["quarantined"] == 5
    here, there = ledger_of(plainly), ledger_of(line.store)
    assert len(there["part_hashes"]) >= 8
    assert there["part_hashes"] == here["part_hashes"]
    assert there["table_digests"] == here["table_digests"]
    assert {n: m[:2] for n, m in there["measures"].items()} == {
        n: m[:2] for n, m in here["measures"].items()
    }
    assert line.ask("SELECT count(*) > 5 FROM rescue_rate") == [(True,)]
    assert tables_of(line.store) == tables_of(plainly)
    assert not list((tmp_path / "spread").glob("next-*"))
    logged = cluster.end()
    key = Path(os.environ["DRYTALLY_KEY_FILE"]).read_text("ascii").strip()
    assert key not in logged and repr(bytes.fromhex(key)) not in logged
    assert "Scheduler" in logged and "'A1'" not in logged


@pytest.fixture
def given(line: Line, tmp_path: Path) -> order.Order:
    """An order as it is handed out, for a worker of this process."""
    store = Store(line.store)
    store.prepare()
    key = Path(os.environ["DRYTALLY_KEY_FILE"])
    key.parent.mkdir()
    key.write_text("ab" * 32, encoding="ascii")
    key.chmod(0o600)
    found = find_files(line.exports)
    day = stages.date(2026, 7, 1)
    job = stages.Job(store, Settings(), day, Ledger(), bytes.fromhex("ab" * 32), found=found)
    stages.choose(job)
    workers.mark_of(store, job.run_id).write_text("")
    return stages.orders_of(job)[-1]


def test_what_is_handed_out_does_not_hold_the_key(given: order.Order) -> None:
    sent = pickle.dumps(given)
    assert bytes.fromhex("ab" * 32) not in sent and b"ab" * 32 not in sent
    assert fingerprint(bytes.fromhex("ab" * 32)).encode() in sent
    results = workers.fulfil_there(pickle.loads(sent))
    assert sum(one.rows_read for one in results.values()) == 5


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"code_version": "0.1.9"}, "runs another version of drytally"),
        ({"run_id": "000009-other"}, "does not see the store"),
        ({"store": Store(Path("/nowhere"))}, "does not see the store"),
    ],
)
def test_a_worker_that_is_a_stranger_does_nothing(
    changed: dict[str, Any], told: str, given: order.Order
) -> None:
    with pytest.raises(StoreError, match=told):
        workers.fulfil_there(dataclasses.replace(given, **changed))


def test_a_worker_without_exports_or_key_says_so_and_quotes_no_value(
    given: order.Order, line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(workers, "fulfil", lambda *_: 1 / 0)
        with pytest.raises(workers.UnforeseenError, match=r"^ZeroDivisionError$"):
            workers.fulfil_there(given)
    other = dataclasses.replace(given, key_fingerprint="0" * 12)
    with pytest.raises(KeyFileError, match="not the one this store was made with"):
        workers.fulfil_there(other)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", "/nowhere/identifier.key")
    with pytest.raises(KeyFileError, match="missing"):
        workers.fulfil_there(given)
    (line.exports / "site-b").rename(line.exports / "unmounted")
    with pytest.raises(StoreError, match="does not see the exports"):
        workers.fulfil_there(given)


def test_a_scheduler_that_does_not_answer_is_told_in_plain_words(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workers, "ANSWER_WITHIN_S", 1)
    for address in ("tcp://127.0.0.1:1", "nonsense://x"):
        given = ["refresh", str(line.exports), "--store", str(line.store), "--plain"]
        assert main([*given, "--dask", address]) == 1
        said = capsys.readouterr().err
        assert f"no Dask scheduler answers at {address}" in said
        assert "Traceback" not in said
        assert not (line.store / "warehouse.duckdb").exists()
