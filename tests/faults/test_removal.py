"""Removing for good: a file, a wearer, an old key. What was removed is nowhere in the store."""

import io
from pathlib import Path

import polars as pl
import pytest

from pipeline.commands.main import main
from pipeline.intake.identity import hidden
from tests.flows.line import Line, measure_only, sessions


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch, "rescue_rate")
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    other = [row | {"session_id": "T" + row["session_id"]} for row in sessions(6)]
    made.write("site-a/sessions_2026-02.csv", other)
    return made


def key_of(line: Line) -> bytes:
    return bytes.fromhex((line.store.parent / "conf" / "identifier.key").read_text().strip())


def wearers(line: Line) -> list[tuple[object, ...]]:
    """Count the wearers that a published rate rests on."""
    return line.ask(
        "SELECT patients FROM rescue_rate WHERE grouping = 'all' AND unit = 'first_cycle'"
        " AND condition_before = 'dead' AND definition = 'sounds_again'"
    )


def everything(store: Path) -> str:
    """All that the store holds, parts unpacked."""
    parts = [pl.read_parquet(p).write_json() for p in store.rglob("*.parquet")]
    rest = [p.read_bytes().decode("latin-1") for p in store.rglob("*") if p.is_file()]
    return "\n".join([*parts, *rest])


def test_a_forgotten_file_is_gone_and_stays_away(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    store = ["--store", str(line.store)]
    assert main(["forget", "site-a/never.csv", *store]) == 2
    assert main(["forget", "site-a/sessions_2026-02.csv", *store]) == 0
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]
    assert len(list((line.store / "parts" / "validated").iterdir())) == 3
    assert len(list((line.store / "ledger").iterdir())) == 1
    # The file still lies in the folder; neither a plain nor a careful run loads it again.
    for more in ((), ("--verify",)):
        line.refresh(capsys, *more)
        assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]
    line.write("site-a/sessions_2026-02.csv", [sessions(1)[0] | {"session_id": "new"}])
    line.refresh(capsys)
    assert line.ask("SELECT count(*) FROM session_aid") == [(13,)]


def test_an_erased_wearer_is_gone_and_kept_out_of_later_files(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = sessions(12)
    rows[0]["device_style"] = "no word"  # a quarantined row of wearer W0
    line.write("site-a/sessions_2026-01.csv", rows)
    event = {"device_id": "A1", "occurred_on": "2026-04-01", "event": "lost"}
    line.write("site-a/service_events.csv", [event, event | {"device_id": "A2"}])
    line.refresh(capsys)
    pseudonyms = [
        str(hidden(plain, domain, key_of(line), site_id="site-a"))
        for plain, domain in (("W0", "wearer"), ("W1", "wearer"), ("A1", "device"))
    ]
    held = everything(line.store)
    assert all(text in held for text in pseudonyms)
    assert wearers(line) == [(12,)]
    store = ["--store", str(line.store)]
    for wearer in ("W0", " w1".upper()):
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{wearer}\n"))
        assert main(["erase", "--site", "site-a", *store]) == 0
    [erased] = line.store.glob("erased.json")
    listed = erased.read_text()
    erased.write_text("[]")
    held = everything(line.store)
    assert not any(text in held for text in pseudonyms)
    assert wearers(line) == [(10,)]
    erased.write_text(listed)
    # Sixteen rows are left of eighteen sessions and one of two events; the account holds.
    assert line.ask("SELECT count(*) FROM session_aid") == [(14,)]
    assert line.ask("SELECT count(*) FROM service_event") == [(1,)]
    # A later file with the same wearer loads without her rows and says how many it left out.
    more = [row | {"session_id": "U" + row["session_id"]} for row in sessions(5)]
    line.write("site-a/sessions_2026-03.csv", more)
    _, outcome = line.refresh(capsys)
    [new] = [row for row in outcome["files"] if row["file"].endswith("2026-03.csv")]
    assert (new["rows_read"], new["accepted"], new["skipped_lines"]) == (3, 3, 2)
    assert "2 rows of erased wearers" in new["message"]
    assert line.ask("SELECT count(*) FROM session_aid") == [(17,)]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    assert main(["erase", "--site", "site-a", *store]) == 2
    assert main(["key", "--rotate", *store]) == 1


def test_a_rotated_key_hides_everything_anew_at_the_next_refresh(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    store = ["--store", str(line.store)]
    assert main(["key", *store]) == 0
    assert "the one this store was made with" in capsys.readouterr().out
    old = line.ask("SELECT device_id FROM session_aid ORDER BY 1")
    assert main(["key", "--rotate", *store]) == 0
    assert "screens every export again" in capsys.readouterr().out
    assert main(["key", *store]) == 3
    assert main(["rebuild", *store]) == 1
    aside = line.exports / "site-a" / "sessions_2026-02.csv"
    data = aside.read_bytes()
    aside.unlink()
    code, outcome = line.refresh(capsys)
    assert code == 1
    assert "cannot be screened again" in outcome["error"]
    assert line.ask("SELECT device_id FROM session_aid ORDER BY 1") == old
    aside.write_bytes(data)
    assert line.refresh(capsys)[0] == 0
    new = line.ask("SELECT device_id FROM session_aid ORDER BY 1")
    assert len(new) == len(old) == 18
    assert not set(new) & set(old)
    held = everything(line.store)
    assert not any(text in held for (text,) in old)
    assert main(["key", *store]) == 0
    assert line.refresh(capsys)[1]["nothing_new"] is True
