"""Damage that a quiet night would hide: of the published warehouse, of the last ledger."""

import io
import json
import os
import shutil
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.store import recovery
from tests.flows.line import Line, measure_only, sessions

RUN = "SELECT max(run_id) FROM refresh_run"
LIVE = "SELECT count(*) FROM session_aid"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a key, exports, and a store after two runs; no measure is computed."""
    folder = tmp_path_factory.mktemp("loaded")
    with pytest.MonkeyPatch.context() as patch:
        measure_only(patch)
        patch.setenv("DRYTALLY_KEY_FILE", str(folder / "conf" / "identifier.key"))
        made = Line(folder)
        given = ["refresh", str(made.exports), "--store", str(made.store), "--plain"]
        for month in (1, 2):
            rows = [row | {"session_id": f"{month}-{row['session_id']}"} for row in sessions(9)]
            made.write(f"site-a/sessions_2026-0{month}.csv", rows)
            assert main([*given, "--as-of", "2026-07-01"]) == 0
    return folder


@pytest.fixture
def line(loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    shutil.copytree(loaded, tmp_path, dirs_exist_ok=True)
    made = Line.__new__(Line)
    made.exports, made.store = tmp_path / "exports", tmp_path / "store"
    made.dashboards = tmp_path / "dashboards"
    return made


def ledgers(line: Line) -> list[Path]:
    return sorted((line.store / "ledger").glob("*.json"))


@pytest.mark.parametrize(
    ("fault", "told"),
    [("flipped", "was damaged"), ("cut", "was damaged"), ("foreign", "was damaged"),
     ("gone", "was gone"), ("log", "another program wrote")],
)  # fmt: skip
def test_a_damaged_warehouse_is_noticed_on_a_quiet_night_and_built_again(
    line: Line, capsys: pytest.CaptureFixture[str], fault: str, told: str
) -> None:
    line.refresh(capsys)  # a copied store: its files are looked at once
    assert line.refresh(capsys)[1]["nothing_new"] is True
    file = line.store / "warehouse.duckdb"
    whole, status = file.read_bytes(), file.stat()
    at = len(whole) // 2
    damaged = {
        "flipped": whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :],
        "cut": whole[:at], "foreign": b"something else", "log": whole,
    }  # fmt: skip
    file.unlink()
    if fault != "gone":
        file.write_bytes(damaged[fault])
    if fault == "flipped":  # as a disk does it: size and times say nothing
        os.utime(file, ns=(status.st_atime_ns, status.st_mtime_ns))
    if fault == "log":
        (line.store / "warehouse.duckdb.wal").write_bytes(b"x")
    code, outcome = line.refresh(capsys)
    assert (code, outcome["needs_attention"]) == (3, True)
    assert told in outcome["notices"][0]
    assert line.ask(LIVE) == [(18,)]
    assert not (line.store / "warehouse.duckdb.wal").exists()
    code, outcome = line.refresh(capsys)
    assert (code, outcome["nothing_new"], outcome["notices"]) == (0, True, [])


def test_a_large_warehouse_is_hashed_at_both_ends_and_all_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "x"
    for whole in (10_000, 9_999):  # whole, and in pieces
        monkeypatch.setattr(recovery, "WHOLE", whole)
        monkeypatch.setattr(recovery, "PIECE", 100)
        file.write_bytes(bytes(10_000))
        before = recovery.digest_of(file)
        for at in (0, 5_000, 9_999):
            file.write_bytes(bytes(at) + b"x" + bytes(9_999 - at))
            assert recovery.digest_of(file) != before
        file.write_bytes(bytes(10_001))
        assert recovery.digest_of(file) != before


@pytest.mark.parametrize("fault", ["torn", "empty", "other"])
def test_a_damaged_last_ledger_gives_way_to_the_one_before(
    line: Line, capsys: pytest.CaptureFixture[str], fault: str
) -> None:
    last = ledgers(line)[-1]
    text = last.read_text("utf-8")
    last.write_text({"torn": text[: len(text) // 2], "empty": "", "other": "[1]"}[fault])
    code, outcome = line.refresh(capsys)
    assert code == 3
    assert last.name in outcome["notices"][0]
    assert ledgers(line)[0].name in outcome["notices"][0]
    assert line.ask(LIVE) == [(18,)]
    assert outcome["run_id"] > last.stem
    assert last.with_suffix(".damaged").exists()
    assert line.refresh(capsys)[1]["notices"] == []


def test_a_damaged_ledger_without_one_before_names_the_way_out(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After an erasure one ledger is left, and no earlier one names the list in force."""
    store = ["--store", str(line.store)]
    monkeypatch.setattr("sys.stdin", io.StringIO("W1\n"))
    assert main(["erase", "--site", "site-a", *store]) == 0
    kept = line.ask(LIVE)
    [last] = ledgers(line)
    earlier = json.loads(last.read_text("utf-8")) | {"run_id": "000001-x", "erased_digest": ""}
    (line.store / "ledger" / "000001-x.json").write_text(json.dumps(earlier))
    last.write_text("torn")
    for command in (["rebuild", *store], ["forget", "site-a/sessions_2026-01.csv", *store]):
        assert main(command) == 1
    code, outcome = line.refresh(capsys)
    assert code == 1
    assert "none before it names the list of erased wearers" in outcome["error"]
    assert "--rescreen" in outcome["error"]
    assert line.ask(LIVE) == kept
    key = line.store.parent / "conf" / "identifier.key"
    whole = key.read_text()
    key.unlink()
    assert main(["rebuild", *store, "--rescreen", str(line.exports)]) == 1
    assert not key.exists()
    key.write_text("7" * 64)
    key.chmod(0o600)
    assert main(["rebuild", *store, "--rescreen", str(line.exports)]) == 1
    assert "not the one this store was made with" in capsys.readouterr().err
    key.write_text(whole)
    assert main(["rebuild", *store, "--rescreen", str(line.exports)]) == 0
    assert "as it lies in the store" in capsys.readouterr().out
    assert line.ask(LIVE) == kept
    assert line.refresh(capsys)[0] == 0
