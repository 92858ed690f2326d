"""Removing for good: a file, a wearer, an old key. What was removed is nowhere in the store."""

import importlib
import io
import json
from pathlib import Path

import polars as pl
import pytest

from pipeline.commands.main import main
from pipeline.intake.identity import hidden
from pipeline.store.layout import Store
from pipeline.store.ledger import read_last
from tests.flows.line import SITE, Line, measure_only, sessions


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
    stale = line.store / "counts" / "rescue_rate-of-before.parquet"
    stale.write_bytes(b"")
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
    kept = {name for *_, name in read_last(Store(line.store)).counts.values()} - {""}
    assert {file.stem for file in (line.store / "counts").iterdir()} == kept
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


def erase(monkeypatch: pytest.MonkeyPatch, line: Line, wearer: str, site: str = "site-a") -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{wearer}\n"))
    return main(["erase", "--site", site, "--store", str(line.store)])


def run_of(line: Line) -> object:
    return line.ask("SELECT max(run_id) FROM refresh_run")[0][0]


def test_another_list_of_erased_wearers_than_the_one_in_force_stops_every_run(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    line.refresh(capsys)
    kept = line.store / "erased.json"
    assert erase(monkeypatch, line, "W1") == 0
    earlier = kept.read_text()
    assert erase(monkeypatch, line, "W2") == 0
    listed = kept.read_text()
    other = {"list_version": 2, "before": "", "key": "", "hashes": ["5" * 32]}
    run = run_of(line)
    faults = {"gone": None, "emptied": "[]", "exchanged": json.dumps(other),
              "shortened": earlier, "torn": listed[:40]}  # fmt: skip
    store = ["--store", str(line.store)]
    for fault, text in faults.items():
        kept.unlink() if text is None else kept.write_text(text)
        capsys.readouterr()
        for more in ((), ("--verify",)):  # with nothing new, and looking at every file
            code, outcome = line.refresh(capsys, *more)
            assert code == 1, fault
            assert "list of erased wearers" in outcome["error"]
            assert "erased.json" in outcome["error"]
        assert main(["rebuild", *store]) == 1
        assert main(["rebuild", *store, "--rescreen", str(line.exports)]) == 1
        assert main(["forget", "site-a/sessions_2026-02.csv", *store]) == 1
        assert erase(monkeypatch, line, "W3") == 1
        assert run_of(line) == run
        kept.write_text(listed)
    assert line.refresh(capsys)[1]["nothing_new"] is True
    assert line.ask("SELECT count(*) FROM session_aid") == [(14,)]


@pytest.mark.parametrize(("wearer", "site"), [("NOBODY", "site-a"), ("W1", "site-x")])
def test_an_erasure_that_finds_nobody_says_so_and_keeps_the_hash(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    wearer: str, site: str,
) -> None:  # fmt: skip
    measure_only(monkeypatch)
    line.refresh(capsys)
    run = run_of(line)
    assert erase(monkeypatch, line, wearer, site) == 2
    said = capsys.readouterr()
    assert "nobody found" in said.err
    assert "keyed hash is kept" in said.err
    assert ("no file of a site 'site-x'" in said.err) is (site == "site-x")
    assert "rows are gone" not in said.out + said.err
    assert wearer not in said.out + said.err
    assert run_of(line) == run
    assert line.refresh(capsys)[1]["nothing_new"] is True
    # A later file of that site loads without that wearer.
    line.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-x", "site_name": "Other"}])
    more = [row | {"patient_id": wearer, "session_id": "N" + row["session_id"],
                   "device_id": "N" + row["device_id"], "dryer_id": ""}
            for row in sessions(2)]  # fmt: skip
    line.write(f"{site}/sessions_2026-05.csv", more)
    _, outcome = line.refresh(capsys)
    [new] = [row for row in outcome["files"] if row["file"].endswith("2026-05.csv")]
    assert (new["rows_read"], new["skipped_lines"]) == (0, 2)
    assert erase(monkeypatch, line, wearer, site) == 2
    assert "was erased before" in capsys.readouterr().err


def test_the_rows_of_an_erased_wearers_aid_go_also_where_they_name_no_wearer(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    nameless = [row | {"session_id": f"N{row['session_id']}", "patient_id": ""}
                for row in sessions(3)]  # fmt: skip
    nameless[2]["device_style"] = "no word"  # quarantined
    line.write("site-a/sessions_2026-03.csv", nameless)
    line.refresh(capsys)
    aids = [str(hidden(a, "device", key_of(line), site_id="site-a")) for a in ("A1", "A2", "A0")]
    assert erase(monkeypatch, line, "W1") == 0
    said = capsys.readouterr().out
    assert "Erased: 3 rows of the wearer and of 1 aids that nobody else wore" in said
    assert "  site-a/sessions_2026-03.csv: 1\n" in said
    assert erase(monkeypatch, line, "W2") == 0
    assert "  site-a/sessions_2026-03.csv: 1\n" in capsys.readouterr().out
    (line.store / "erased.json").rename(line.store.parent / "kept.json")
    held = everything(line.store)
    (line.store.parent / "kept.json").rename(line.store / "erased.json")
    assert [aid in held for aid in aids] == [False, False, True]
    # In a later file too, and screened anew.
    line.write("site-a/sessions_2026-04.csv", [r | {"session_id": "Q"} for r in nameless[:2]])
    line.refresh(capsys)
    assert main(["rebuild", "--store", str(line.store), "--rescreen", str(line.exports)]) in {0, 3}
    for aid, rows in zip(aids, (0, 0, 4), strict=True):
        assert line.ask(f"SELECT count(*) FROM session_aid WHERE device_id = '{aid}'") == [(rows,)]


def test_an_aid_that_somebody_else_wore_too_stays_with_that_wearer(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    lent = [
        row | {"session_id": f"L{wearer}", "patient_id": wearer, "device_id": "LOAN"}
        for row, wearer in zip(sessions(2), ("W1", "W9"), strict=True)
    ]
    line.write("site-a/sessions_2026-03.csv", lent)
    line.refresh(capsys)
    aid = hidden("LOAN", "device", key_of(line), site_id="site-a")
    counted = f"SELECT count(*) FROM session_aid WHERE device_id = '{aid}'"
    assert line.ask(counted) == [(2,)]
    assert erase(monkeypatch, line, "W1") == 0
    assert line.ask(counted) == [(1,)]


class Killed(BaseException):
    """Stands for kill -9: no handler of the program may take it."""


@pytest.mark.parametrize(
    ("where", "call"),
    [
        ("pipeline.removal.write_part", 1), ("pipeline.store.ledger.write", 1),
        ("pipeline.removal.clear_unused", 1), ("pathlib.Path.replace", 4),
        ("pipeline.warehouse.publish.publish", 1),
    ],
)  # fmt: skip
def test_an_erasure_that_is_cut_short_is_finished_by_the_next_run(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    where: str, call: int,
) -> None:  # fmt: skip
    measure_only(monkeypatch)
    line.refresh(capsys)
    pseudonym = str(hidden("W1", "wearer", key_of(line), site_id="site-a"))
    calls = 0
    module, _, name = where.rpartition(".")
    owner = Path if module == "pathlib.Path" else importlib.import_module(module)
    real = getattr(owner, name)

    def dies(*given: object, **named: object) -> object:
        nonlocal calls
        calls += 1
        if calls == call:
            raise Killed
        return real(*given, **named)

    with monkeypatch.context() as patch:
        patch.setattr(owner, name, dies)
        with pytest.raises(Killed):
            erase(patch, line, "W1")
    code, _ = line.refresh(capsys)
    assert code == 0
    assert line.ask("SELECT count(*) FROM session_aid") == [(16,)]
    listed = (line.store / "erased.json").read_text()
    (line.store / "erased.json").write_text("[]")
    assert pseudonym not in everything(line.store)
    (line.store / "erased.json").write_text(listed)
    assert line.refresh(capsys)[1]["nothing_new"] is True
    assert main(["rebuild", "--store", str(line.store)]) == 0
