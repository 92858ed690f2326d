"""Ten nights of a group, and the note that whoever runs it finds each morning."""

import io
import os
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands import refresh
from pipeline.commands.main import main
from pipeline.commands.outcome import told as outcome_told
from pipeline.store.layout import Store
from pipeline.store.log import log_file
from tests.flows.line import Line, measure_only, sessions

SITE = "site-b"


class Nights(Line):
    """A line whose nights follow each other."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        super().__init__(folder)
        self.capsys = capsys
        site = (self.exports / "reference" / "sites.csv").read_text(encoding="utf-8")
        head, row = site.splitlines()
        both = [head, row, row.replace("site-a", SITE)]
        (self.exports / "reference" / "sites.csv").write_text("\n".join(both) + "\n", "utf-8")
        self.write("reference/dryers.csv", [
            {"site_id": site, "dryer_id": "D1"} for site in ("site-a", SITE)
        ])  # fmt: skip

    def night(self, day: str) -> tuple[int, dict[str, Any], str]:
        """Run one night; its exit code, outcome and note."""
        code, outcome = self.refresh(self.capsys, "--as-of", day)
        return code, outcome, outcome_told(outcome) if "files" in outcome else outcome["error"]

    def kinds(self) -> dict[str, list[str]]:
        rows = self.ask("SELECT change_kind, subject FROM refresh_change ORDER BY ALL")
        found: dict[str, list[str]] = {}
        for kind, subject in rows:
            found.setdefault(kind, []).append(subject)
        return found


def month(number: int, count: int = 12) -> list[dict[str, str]]:
    return [
        row | {
            "session_id": f"{number}-{row['session_id']}",
            "started_at": row["started_at"].replace("2026-01", f"2026-{number:02d}"),
        }
        for row in sessions(count)
    ]  # fmt: skip


@pytest.fixture
def nights(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Nights:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    measure_only(monkeypatch, "attention_item")
    made = Nights(tmp_path, capsys)
    for site in ("site-a", SITE):
        made.write(f"{site}/sessions_2026-01.csv", month(1))
    return made


def test_ten_nights_and_the_note_of_each(
    nights: Nights, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, outcome, note = nights.night("2026-02-02")
    assert code == 3  # chambers never checked
    assert "First run: 4 files of 2 sites." in note
    assert outcome["attention"]

    # A new file.
    nights.write("site-a/sessions_2026-02.csv", month(2))
    code, _, note = nights.night("2026-03-02")
    assert nights.kinds()["new_file"] == ["site-a/sessions_2026-02.csv"]
    assert "New files (1):\n    site-a/sessions_2026-02.csv: New: 12 rows." in note

    a_month_is_corrected(nights)
    a_site_is_late(nights)
    a_file_is_broken_known_and_mended(nights, capsys)
    the_clock_goes_back(nights, monkeypatch)
    rows_left = a_wearer_is_erased(nights, monkeypatch)
    the_program_is_upgraded(nights, monkeypatch, rows_left)
    the_warehouse_is_damaged(nights, rows_left)
    nothing_is_new(nights)


def a_month_is_corrected(nights: Nights) -> None:
    rows = month(1)
    rows[2] = rows[2] | {"condition_after": "weak"}
    rows[5] = rows[5] | {"condition_after": "dead"}
    nights.write("site-a/sessions_2026-01.csv", [*rows[:11], *rows[12:]])
    _code, _, note = nights.night("2026-03-03")
    assert (
        "site-a/sessions_2026-01.csv: Corrected: 2 rows are new or read otherwise, 3 of before are"
        " gone (2026-01). Lines 4, 7."
    ) in note


def a_site_is_late(nights: Nights) -> None:
    # Its month comes after a newer one.
    nights.write(f"{SITE}/sessions_2026-03.csv", month(3, 4))
    nights.night("2026-04-02")
    nights.write(f"{SITE}/sessions_2026-02.csv", month(2, 5))
    _code, _, note = nights.night("2026-04-03")
    assert nights.kinds()["late_file"] == [f"{SITE}/sessions_2026-02.csv"]
    assert "New and late: 5 rows of 2026-02" in note


def a_file_is_broken_known_and_mended(nights: Nights, capsys: pytest.CaptureFixture[str]) -> None:
    # Told once as new; the night after it waits, but is not new.
    store = str(nights.store)
    broken = nights.exports / "site-a" / "sessions_2026-03.csv"
    broken.write_bytes(b"\x00\x01 nothing that can be read")
    code, outcome, note = nights.night("2026-04-04")
    assert code == 3
    assert nights.kinds()["file_refused"] == ["site-a/sessions_2026-03.csv"]
    fault = next(item for item in outcome["attention"] if item["item_kind"] == "file")
    assert fault["is_new"]
    code, outcome, note = nights.night("2026-04-05")
    assert "Since the run before" not in note
    fault = next(item for item in outcome["attention"] if item["item_kind"] == "file")
    assert (code, fault["is_new"]) == (3, False)

    # Everything that waits is known: the run ends with 0, and the fault stays listed.
    day_after = "2999-01-01"
    told = ["--reason", "the clinic exports anew next week", "--store", store]
    assert main(["acknowledge", fault["item_id"], "--until", day_after, *told]) == 2
    for item in outcome["attention"]:
        until = refresh.date.today().isoformat()
        assert main(["acknowledge", item["item_id"], "--until", until, *told]) == 0
    capsys.readouterr()
    code, outcome, note = nights.night("2026-04-06")
    assert code == 0
    fault = next(item for item in outcome["attention"] if item["item_kind"] == "file")
    assert fault["reason"] == "the clinic exports anew next week"
    # … until the day has passed.
    later = refresh.date.today().replace(year=refresh.date.today().year + 1).isoformat()
    assert nights.night(later)[0] == 3

    # The fault is cleared.
    nights.write("site-a/sessions_2026-03.csv", month(3))
    code, _, note = nights.night("2026-04-07")
    assert nights.kinds()["file_cleared"] == ["site-a/sessions_2026-03.csv"]
    assert "file, site-a/sessions_2026-03.csv" in nights.kinds()["item_cleared"]


def the_clock_goes_back(nights: Nights, monkeypatch: pytest.MonkeyPatch) -> None:
    # Runs go on in order.
    before = nights.ask("SELECT max(sequence) FROM refresh_run")[0][0]
    nights.write("site-a/sessions_2026-04.csv", month(4, 3))
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    _code, _outcome, _ = nights.night("2026-04-06")
    assert nights.ask("SELECT max(sequence) FROM refresh_run")[0][0] == before + 1


Rows = list[tuple[Any, ...]]


def a_wearer_is_erased(nights: Nights, monkeypatch: pytest.MonkeyPatch) -> Rows:
    # And does not come back with the next exports.
    store = str(nights.store)
    monkeypatch.setattr("sys.stdin", io.StringIO("W1\n"))
    assert main(["erase", "--site", "site-a", "--store", store]) in {0, 3}
    rows_left = nights.ask("SELECT count(*) FROM session_aid")
    nights.night("2026-04-08")
    assert nights.ask("SELECT count(*) FROM session_aid") == rows_left

    return rows_left


def the_program_is_upgraded(
    nights: Nights, monkeypatch: pytest.MonkeyPatch, rows_left: Rows
) -> None:
    # Another contract screens every file again, and no row is lost.
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.stages.CONTRACT_VERSION", "next")
        patch.setattr("pipeline.publishing.CONTRACT_VERSION", "next")
        nights.night("2026-04-09")
    assert nights.ask("SELECT count(*) FROM session_aid") == rows_left


def the_warehouse_is_damaged(nights: Nights, rows_left: Rows) -> None:
    # The night says so in words.
    store = str(nights.store)
    warehouse = nights.store / "warehouse.duckdb"
    sound = warehouse.read_bytes()
    warehouse.write_bytes(sound[:4096] + os.urandom(4096) + sound[8192:])
    code, _, note = nights.night("2026-04-09")
    assert code in {0, 1, 3}
    assert "Traceback" not in note
    if code == 1:
        assert "rebuild" in note
        assert main(["rebuild", "--store", store]) in {0, 3}
    assert nights.ask("SELECT count(*) FROM session_aid") == rows_left


def nothing_is_new(nights: Nights) -> None:
    nights.night("2026-04-10")
    _code, outcome, note = nights.night("2026-04-10")
    assert outcome["nothing_new"]
    assert note.startswith("Nothing new since run ")
    log = log_file(Store(nights.store)).read_text(encoding="utf-8")
    assert "Corrected: 2 rows" in log
    assert "W1" not in log


@pytest.mark.parametrize("reason", ["", " ", "x" * 201, "call Mrs Jones", "ring +44 20 7946 0958",
                                    "a@b.example"])  # fmt: skip
def test_a_reason_is_needed_and_tells_no_person(
    nights: Nights, capsys: pytest.CaptureFixture[str], reason: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    nights.night("2026-02-02")
    until = refresh.date.today().isoformat()
    ask = ["acknowledge", "abc", "--until", until, "--store", str(nights.store)]
    assert main([*ask, "--reason", reason]) == 2
    said = capsys.readouterr().err
    assert "reason" in said
    assert "Jones" not in said
    assert not (nights.store / "acknowledged.json").exists()
    assert main([*ask, "--reason", "known since 2026-03-01"]) == 2
    assert "no item 'abc'" in capsys.readouterr().err
