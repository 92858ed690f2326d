"""A store that an earlier version left is refreshed, erased from and rebuilt by this one."""

import io
import shutil
import tarfile
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.warehouse.fence import fenced_query
from schemas.version import CONTRACT_VERSION

STORES = Path(__file__).parent
VERSIONS = sorted(item.name for item in STORES.iterdir() if (item / "store.tar.xz").exists())
LIVE = "SELECT count(*), count(DISTINCT patient_id) FROM session_aid"


@pytest.fixture(params=VERSIONS)
def old(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of one old store with its exports and its key."""
    kept = STORES / request.param
    shutil.copytree(kept / "exports", tmp_path / "exports")
    key = shutil.copy(kept / "test_key", tmp_path / "key")
    Path(key).chmod(0o600)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(key))
    with tarfile.open(kept / "store.tar.xz") as packed:
        packed.extractall(tmp_path, filter="data")
    return tmp_path


def ask(folder: Path, sql: str) -> list[tuple[object, ...]]:
    return fenced_query(folder / "store" / "warehouse.duckdb", sql).rows


def test_an_old_store_is_refreshed_erased_from_and_rebuilt(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = str(old / "store")
    before = ask(old, LIVE)
    refresh = ["refresh", str(old / "exports"), "--store", store, "--plain", "--as-of"]
    assert main([*refresh, "2026-04-06"]) in {0, 3}
    assert ask(old, LIVE) == before  # the same exports hold the same rows
    assert ask(old, "SELECT max(contract_version) FROM refresh_run") == [(CONTRACT_VERSION,)]

    monkeypatch.setattr("sys.stdin", io.StringIO("W1\n"))
    assert main(["erase", "--site", "site-a", "--store", store]) in {0, 3}
    rows, wearers = ask(old, LIVE)[0]
    assert rows < before[0][0]
    assert wearers == before[0][1] - 1

    erased = ask(old, LIVE)
    assert main(["rebuild", "--store", store]) in {0, 3}
    assert ask(old, LIVE) == erased
    assert main([*refresh, "2026-04-07"]) in {0, 3}
    assert ask(old, LIVE) == erased  # the exports still name the wearer


def test_an_old_store_goes_on_hiding_small_counts(old: Path) -> None:
    pages = old / "pages"
    command = ["refresh", str(old / "exports"), "--store", str(old / "store"), "--plain"]
    assert main([*command, "--as-of", "2026-04-06", "--dashboards", str(pages)]) in {0, 3}
    assert "Shared edition." in (pages / "index.html").read_text(encoding="utf-8")
    (old / "store" / "drytally.toml").write_text('edition = "inside"\n', encoding="utf-8")
    assert main([*command, "--as-of", "2026-04-06", "--dashboards", str(pages)]) == 2
    assert main([*command, "--as-of", "2026-04-06", "--dashboards", str(old / "own")]) in {0, 3}
    assert "Inside edition." in (old / "own" / "index.html").read_text(encoding="utf-8")


def test_an_old_store_is_rebuilt_and_erased_from_before_any_refresh(
    old: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # Its parts lack the columns that were declared since.
    store = str(old / "store")
    before = ask(old, LIVE)
    assert main(["rebuild", "--store", store]) in {0, 3}, capsys.readouterr().err
    assert ask(old, LIVE) == before
    monkeypatch.setattr("sys.stdin", io.StringIO("W1\n"))
    assert main(["erase", "--site", "site-a", "--store", store]) in {0, 3}, capsys.readouterr().err
    assert ask(old, LIVE)[0][1] == before[0][1] - 1
