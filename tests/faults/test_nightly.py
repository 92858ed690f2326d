"""What the person who runs it nightly sees: the key, files that are gone, held, new; silence."""

import json
import shutil
from datetime import date, datetime
from pathlib import Path

import pytest

from pipeline.commands import refresh
from pipeline.commands.main import main
from pipeline.intake.key import path_for
from pipeline.pace import LEAST_TOLD_S, time_left
from tests.flows.line import Line, measure_only, sessions


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    for month in (1, 2):
        rows = [row | {"session_id": f"{month}-{row['session_id']}"} for row in sessions(10)]
        made.write(f"site-a/sessions_2026-0{month}.csv", rows)
    return made


def given(line: Line, *more: str) -> list[str]:
    return ["refresh", str(line.exports), "--store", str(line.store), "--plain",
            "--as-of", "2026-07-01", *more]  # fmt: skip


def test_a_missing_or_another_key_is_told_with_nothing_new(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    key = line.store.parent / "conf" / "identifier.key"
    whole = key.read_text()
    key.unlink()
    code, outcome = line.refresh(capsys)
    assert code == 1
    assert "is missing, and this store was made with one" in outcome["error"]
    assert not key.exists()
    key.write_text("7" * 64)
    key.chmod(0o600)
    assert "not the one this store was made with" in line.refresh(capsys)[1]["error"]
    key.write_text(whole)
    assert line.refresh(capsys)[1]["nothing_new"] is True
    key.chmod(0o644)
    assert "can be read by others" in line.refresh(capsys)[1]["error"]


def test_a_copied_demo_store_takes_the_key_that_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new demo makes its own key beside its store, whatever key is named."""
    named = tmp_path / "named.key"
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(named))
    store = tmp_path / "demo" / "store"
    beside = tmp_path / "demo" / "demo-identifier.key"
    assert path_for(store, is_demo=True) == beside
    (store / "ledger").mkdir(parents=True)
    (store / "ledger" / "000001-x.json").write_text("{}")
    assert path_for(store, is_demo=True) == named
    beside.write_text("x")
    assert path_for(store, is_demo=True) == beside
    monkeypatch.delenv("DRYTALLY_KEY_FILE")
    beside.unlink()
    assert path_for(store, is_demo=True) == beside


def test_forget_is_named_where_it_is_the_way_out(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(given(line)) == 0
    file = line.exports / "site-a" / "sessions_2026-02.csv"
    shutil.move(file, file.with_name("sessions_2026-03.csv"))  # renamed by the site
    capsys.readouterr()
    assert main(given(line)) == 0
    said = capsys.readouterr().out
    assert (
        "No longer in the exports folder, their rows still count: site-a/sessions_2026-02" in said
    )
    assert "drytally forget site-a/sessions_2026-02.csv" in said
    _, outcome = line.refresh(capsys)
    assert outcome["gone"] == ["site-a/sessions_2026-02.csv"]
    [copy] = [row for row in outcome["files"] if row["status"] == "copy"]
    assert "drytally forget site-a/sessions_2026-02.csv makes way for it" in copy["message"]
    assert main(["forget", "site-a/sessions_2026-02.csv", "--store", str(line.store)]) == 0
    _, outcome = line.refresh(capsys, "--verify")
    assert outcome["gone"] == []
    assert line.ask("SELECT count(*) FROM session_aid") == [(20,)]


def test_a_dry_run_lists_what_is_new_and_writes_nothing(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(given(line, "--dry-run")) == 0
    assert not line.store.exists()
    assert "4 new, 0 changed, 0 unchanged, 0 not read; 0 gone" in capsys.readouterr().out
    main(given(line))
    line.write("site-a/sessions_2026-01.csv", sessions(9))
    (line.exports / "site-a" / "sessions_2026-02.csv").touch()
    line.write("site-a/sessions_2026-03.csv", sessions(2))
    (line.exports / "site-a" / "what.doc").write_text("x")
    (line.exports / "reference" / "dryers.csv").unlink()
    before = {p: p.read_bytes() for p in line.store.rglob("*") if p.is_file()}
    capsys.readouterr()
    assert main(given(line, "--dry-run", "--json")) == 0
    told = json.loads(capsys.readouterr().out)
    states = {row["file"]: row["state"] for row in told["would_read"]}
    assert states.pop("reference/sites.csv") == "unchanged"
    assert states.pop("site-a/sessions_2026-01.csv") == "changed"
    assert states.pop("site-a/sessions_2026-02.csv") == "unchanged"
    assert states.pop("site-a/sessions_2026-03.csv") == "new"
    assert list(states.values()) == ["not read"]
    assert told["gone"] == ["reference/dryers.csv"]
    assert main(given(line, "--dry-run")) == 0
    said = capsys.readouterr().out
    assert "1 new, 1 changed, 2 unchanged, 1 not read; 1 gone" in said
    assert "sessions_2026-02.csv" not in said
    assert before == {p: p.read_bytes() for p in line.store.rglob("*") if p.is_file()}


def test_a_shrunken_file_is_accepted_by_its_name_alone(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    for month in (1, 2):
        line.write(f"site-a/sessions_2026-0{month}.csv", sessions(2))
    _, outcome = line.refresh(capsys)
    held = [row["message"] for row in outcome["files"] if row["status"] == "held"]
    assert "refresh --accept-shrink site-a/sessions_2026-01.csv" in held[0]
    assert main(given(line, "--accept-shrink", "site-a/sessions_2026-09.csv")) == 2
    assert "site-a/sessions_2026-01.csv, site-a/sessions_2026-02.csv" in capsys.readouterr().err
    _, outcome = line.refresh(capsys, "--accept-shrink", "site-a/sessions_2026-01.csv")
    status = {row["file"]: row["status"] for row in outcome["files"] if row["status"] != "kept"}
    assert status["site-a/sessions_2026-01.csv"] != "held"
    assert status["site-a/sessions_2026-02.csv"] == "held"


def test_a_quiet_run_prints_only_where_something_needs_attention(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        assert main(given(line, "--quiet")) == 0
        said = capsys.readouterr()
        assert (said.out, said.err) == ("", "")
    (line.exports / "site-a" / "what.doc").write_text("x")
    assert main(given(line, "--quiet")) == 3
    assert "starts with no table's name" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("done", "spent_s", "told"),
    [
        (1, LEAST_TOLD_S - 0.1, ""), (1, 6, ", about 54 s left"), (0, 60, ""), (10, 60, ""),
        (1, 10, ", about 2 min left"), (9, 90, ", about 10 s left"),
    ],
)  # fmt: skip
def test_progress_tells_the_time_left_once_it_can_be_known(
    done: int, spent_s: float, told: str
) -> None:
    assert time_left(done, 10, spent_s) == told


def test_rows_refused_by_nothing_but_their_day_count_once_it_has_come(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The night they are due has nothing new to load, and no day is given."""
    late = [row | {"session_id": f"L{row['session_id']}", "started_at": "2026-07-05T10:00"}
            for row in sessions(3)]  # fmt: skip
    line.write("site-a/sessions_2026-07.csv", late)
    check = {"site_id": "site-a", "dryer_id": "D1", "checked_at": "2026-07-07", "dose_ul": "10",
             "reading_ul": "10"}  # fmt: skip
    line.write("site-a/dose_checks_2026.csv", [check])
    _, outcome = line.refresh(capsys)
    rows = {r["file"]: (r["rows_read"], r["quarantined"]) for r in outcome["files"]}
    assert rows["site-a/sessions_2026-07.csv"] == (3, 3)
    assert line.ask(
        "SELECT DISTINCT table_name, column_name, found FROM quarantined_row ORDER BY 1"
    ) == [("dose_checks", "local_date", "2026-07-07"), ("sessions", "local_date", "2026-07-05")]

    def night(day: date) -> bool:
        class Today(datetime):
            @classmethod
            def now(cls, tz=None):
                return datetime(day.year, day.month, day.day, 2, tzinfo=tz)

        monkeypatch.setattr(refresh, "datetime", Today)
        assert main([w for w in given(line, "--json") if w not in {"--as-of", "2026-07-01"}]) < 4
        outcome = json.loads(capsys.readouterr().out)
        return bool(outcome["nothing_new"] or outcome["is_day_alone"])

    assert night(date(2026, 7, 3)) is True
    assert line.ask("SELECT count(*) FROM session_aid") == [(20,)]
    assert night(date(2026, 7, 4)) is False  # a day ahead is no future: clocks and zones differ
    assert line.ask("SELECT count(*) FROM session_aid") == [(23,)]
    assert night(date(2026, 7, 5)) is True
    assert night(date(2026, 7, 6)) is False
    assert line.ask("SELECT count(*) FROM dose_check") == [(1,)]
    assert night(date(2026, 7, 20)) is True
