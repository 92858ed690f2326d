"""`map` leads three clinics from their own exports to mappings that load every row, without a
dead end; what it cannot know it asks, and what could identify it does not show."""

import datetime as dt
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands import map as map_command
from pipeline.commands.main import main
from tests.clinics import three
from tests.clinics.applied import apply_edit
from tests.flows.line import SITE, Line, measure_only

CLINICS = ("clinic-a", "clinic-b", "clinic-c")
SAMPLES = {
    "clinic-a": ["Trocknung_2026-03.csv"],
    "clinic-b": ["Monthly list 2026-03.xlsx"],
    "clinic-c": ["log_2026.csv", "visits_2026.csv"],
}


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write(
        "reference/sites.csv",
        [SITE | {"site_id": s, "time_zone": "Europe/Berlin"} for s in CLINICS],
    )
    made.write("reference/dryers.csv", [{"site_id": s, "dryer_id": "D1"} for s in CLINICS])
    three.write_all(made.exports)
    return made


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def led(
    line: Line, site: str, answers: str, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> tuple[int, str]:  # fmt: skip
    """Run `map` as at a terminal, one line of answers a question."""
    monkeypatch.setattr("sys.stdin", Terminal(answers))
    files = [str(line.exports / site / name) for name in SAMPLES[site]]
    capsys.readouterr()
    code = main(["map", *files, "--site", site])
    return code, capsys.readouterr().out


def test_a_clinic_with_two_aids_a_row_needs_one_command(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = led(line, "clinic-a", "3\n1\n1\n2\n4\n1\n", monkeypatch, capsys)
    assert code == 0, said
    assert "60 lines read → 96 aid rows, 96 would count, 0 left out" in said
    assert "water_kind" not in said
    for secret in ("SN00001", "K001", "V0001", "rückrufen"):
        assert secret not in said
    text = (line.exports / "clinic-a" / "mapping.toml").read_text("utf-8")
    assert '"ex-hörer" = "ric"' in text and 'files = ["Trocknung_*.csv"]' in text
    # A second pass keeps everything and asks nothing.
    code, again = led(line, "clinic-a", "", monkeypatch, capsys)
    assert code == 0 and "0 keys settled, 0 questions open" in again
    assert (line.exports / "clinic-a" / "mapping.toml").read_text("utf-8") == text


def test_a_workbook_with_a_banner_and_day_numbers_asks_for_its_unit_alone(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = led(line, "clinic-b", "mL\n", monkeypatch, capsys)
    assert code == 0, said
    assert "header_rows = 2" in said and 'serial_dates = "1900"' in said
    assert "40 lines read → 80 aid rows, 80 would count" in said
    first = three.starts(1, 2)[0]
    assert f"started_at {first:%Y-%m-%dT%H:%M}" in said


def test_a_log_and_visits_are_joined_once_the_clock_is_told(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = led(line, "clinic-c", "\n3\n", monkeypatch, capsys)
    assert code == 3
    assert "the log's clock is 7 minutes fast" in said
    assert "[chamber_runs] clock_offset_minutes = -7" in said
    assert "fast is negative" in said
    log = line.exports / "clinic-c" / "log_2026.csv"

    def checked() -> dict[str, Any]:
        capsys.readouterr()
        main(["check", str(log), "--json", "--as-of", "2026-07-01"])
        return dict(json.loads(capsys.readouterr().out)["files"][0])

    edit = checked()["join_edit"]
    assert edit["value"] == -7
    apply_edit(edit | {"value": 7}, line.exports, log)
    wrong = " ".join(checked()["joins"])
    assert "still 14 minutes fast" in wrong and "7 has the wrong sign" in wrong
    apply_edit(edit, line.exports, log)
    found = checked()
    assert found["join_edit"] is None
    assert found["joins"] == ["80 runs: 0 joined by session, 72 by time, 8 without a record, 0 near"
                              " more than one"]  # fmt: skip


def test_a_log_whose_clock_drifts_is_told_so_and_one_that_keeps_time_is_not(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log = line.exports / "clinic-c" / "log_2026.csv"
    log.write_text(three.log(gained_a_day=0.1), "utf-8")
    code, said = led(line, "clinic-c", "\n3\n", monkeypatch, capsys)
    assert code == 3
    found = re.search(r"it gains (\d\.\d) minutes a month: set the chamber's clock", said)
    assert found is not None and abs(float(found[1]) - 3.0) <= 0.5, said
    log.write_text(three.log(gained_a_day=-0.1), "utf-8")
    _, slow = led(line, "clinic-c", "", monkeypatch, capsys)
    assert re.search(r"it loses (2\.[5-9]|3\.[0-5]) minutes a month", slow), slow
    log.write_text(three.log(), "utf-8")
    _, steady = led(line, "clinic-c", "", monkeypatch, capsys)
    assert "minutes a month" not in steady and "7 minutes fast" in steady


def test_the_clock_of_a_log_is_asked_for_and_the_answer_written(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    mapping = line.exports / "clinic-c" / "mapping.toml"
    code, said = led(line, "clinic-c", "\n3\n1\n", monkeypatch, capsys)
    assert code == 0, said
    assert "\nclock_offset_minutes = -7\n" in mapping.read_text("utf-8")
    assert "72 by time, 8 without a record" in said
    # Left open, or without a terminal, it stays a question in the file.
    mapping.unlink()
    code, said = led(line, "clinic-c", "\n3\n\n", monkeypatch, capsys)
    assert code == 3 and "Settle the clock in" in said
    text = mapping.read_text("utf-8")
    assert "\n# clock_offset_minutes = -7  # question: " in text
    text = text.replace("# clock_offset_minutes = -7  # question: ", "clock_offset_minutes = -7 # ")
    mapping.write_text(text, "utf-8")
    code, said = led(line, "clinic-c", "", monkeypatch, capsys)
    assert code == 0, said
    # The wrong sign is not left beside the right one.
    mapping.write_text(text.replace("= -7", "= 7"), "utf-8")
    code, said = led(line, "clinic-c", "", monkeypatch, capsys)
    assert code == 3 and "7 has the wrong sign" in said
    assert mapping.read_text("utf-8").count("clock_offset_minutes") == 1


def test_all_three_load_right_to_the_row(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    led(line, "clinic-a", "3\n1\n1\n2\n4\n1\n", monkeypatch, capsys)
    led(line, "clinic-b", "mL\n", monkeypatch, capsys)
    led(line, "clinic-c", "\n3\n", monkeypatch, capsys)
    mapping = line.exports / "clinic-c" / "mapping.toml"
    mapping.write_text(
        mapping.read_text().replace("match_window", "clock_offset_minutes = -7\nmatch_window")
    )
    code, outcome = line.refresh(capsys)
    assert code == 0, outcome
    counted = line.ask("SELECT site_id, count(*) FROM session_aid GROUP BY 1 ORDER BY 1")
    assert counted == [("clinic-a", 96), ("clinic-b", 80), ("clinic-c", 72)]
    truth = {
        "clinic-a": three.starts(60, 1), "clinic-b": three.starts(40, 2),
        "clinic-c": [at for i, at in enumerate(three.starts(80, 3)) if i % 10 != 9],
    }  # fmt: skip
    for site, starts in truth.items():
        rows = line.ask(
            "SELECT DISTINCT strftime(started_at_utc, '%Y-%m-%dT%H:%M') FROM session_aid"
            f" WHERE site_id = '{site}' ORDER BY 1"
        )
        zone = dt.timedelta(hours=1)  # all of them lie before summer time
        told = [dt.datetime.fromisoformat(row[0]) + zone for row in rows]
        assert told == sorted(at for at in starts), site
    assert line.ask("SELECT round(sum(moisture_ul), 3), count(moisture_ul) FROM session_aid"
                    " WHERE site_id = 'clinic-b'") == [
        (round(2 * sum(2 + 0.5 * (i % 9) for i in range(40)), 3), 80)
    ]  # fmt: skip


def test_without_a_terminal_questions_are_comments_to_take_away(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.exports / "clinic-a" / SAMPLES["clinic-a"][0]
    assert main(["map", str(file), "--site", "clinic-a", "--no-questions"]) == 3
    mapping = line.exports / "clinic-a" / "mapping.toml"
    text = mapping.read_text("utf-8")
    assert '# "ex-hörer" = "ric"  # question: ' in text
    assert '# below_detection = ["n.n."]  # question: ' in text
    settled = [
        row.removeprefix("# ").split("  # question")[0] if "# question: " in row else row
        for row in text.splitlines()
    ]
    mapping.write_text("\n".join(settled), "utf-8")
    assert main(["map", str(file), "--site", "clinic-a", "--no-questions"]) == 0
    assert "96 would count, 0 left out" in capsys.readouterr().out


def test_every_mistake_of_a_mapping_is_told_at_once(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    (line.exports / "clinic-a" / "mapping.toml").write_text(
        "[sessions]\nskip_line = 1\ndate_order = 'dym'\n[sessions.units]\n"
        "cycle_minutes = 'parsec'\nmoisture_ul = 'furlong'\nchamber_temp_max_c = 'R'\n"
    )
    file = line.exports / "clinic-a" / SAMPLES["clinic-a"][0]
    assert main(["map", str(file), "--site", "clinic-a", "--no-questions"]) == 1
    said = capsys.readouterr().err
    for at in (2, 3, 5, 6, 7):
        assert f"clinic-a/mapping.toml, line {at}: " in said
    assert "5 mistakes" in said


def test_a_unit_that_nobody_told_leaves_its_column_out(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.exports / "clinic-b" / SAMPLES["clinic-b"][0]
    command = ["map", str(file), "--site", "clinic-b", "--json"]
    assert main(command) == 3
    told = json.loads(capsys.readouterr().out)
    [question] = told["questions"]
    assert question["path"] == ["sessions", "units", "moisture_ul"]
    assert question["choices"] == ["mL", "g"]  # what its values can be, no more
    assert '\nmoisture_ul = "Visit Water reading"' not in told["draft"]
    assert '# moisture_ul = "Visit Water reading"  # question: ' in told["draft"]


def test_what_could_identify_is_not_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sample, out = tmp_path / "sessions.csv", tmp_path / "mapping.toml"
    sample.write_text(
        "started_at,device_style,condition_before,device_id,ear,Ann Example,remark\n"
        "2026-03-10T09:00,ric,dead,SN1234567,Bo Example,x,Cy Example\n" * 3
    )
    main(["map", str(sample), "--site", "site-a", "--zone", "Europe/Berlin", "--out", str(out)])
    told = capsys.readouterr()
    for text in (told.out.lower(), told.err.lower(), out.read_text("utf-8").lower()):
        assert "example" not in text and "sn1234567" not in text
    assert out.stat().st_mode & 0o077 == 0


def test_an_answer_is_taken_by_number_by_word_or_left_open(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from pipeline.drafting.draft import Question

    question = Question(("sessions", "date_order"), "which?", ("dmy", "mdy"))
    for line, meant in (("2\n", "mdy"), ("DMY\n", "dmy"), ("0\n", None), ("\n", None),
                        ("9\nx\n1\n", "dmy"), ("", None)):  # fmt: skip
        monkeypatch.setattr("sys.stdin", Terminal(line))
        assert map_command._asked(question) == meant
    assert "Write one of the numbers." in capsys.readouterr().err


def test_what_is_needed_and_not_found_is_asked_for_each_side(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column of one side never stands for both aids of a row."""
    file = line.exports / "clinic-a" / SAMPLES["clinic-a"][0]
    text = three.german().decode("cp1252").replace("Zustand vorher", "Merkmal")
    file.write_bytes(text.encode("cp1252"))
    main(["map", str(file), "--site", "clinic-a", "--json"])
    asked = {
        tuple(q["path"][1:]): q["choices"] for q in json.loads(capsys.readouterr().out)["questions"]
    }
    assert asked["left", "condition_before"] == ["Merkmal links"]
    assert asked["right", "condition_before"] == ["Merkmal rechts"]
    assert ("columns", "condition_before") not in asked


def test_run_numbers_of_a_log_are_no_sessions_of_the_records(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = line.exports / "clinic-c"
    log, visits = (folder / name for name in SAMPLES["clinic-c"])
    rows = log.read_text("utf-8").splitlines()
    numbered = [f"Run,{rows[0]}", *(f"{at},{row}" for at, row in enumerate(rows[1:], start=1))]
    log.write_text("\n".join(numbered) + "\n", "utf-8")

    def questions(*files: Path) -> list[str]:
        (folder / "mapping.toml").unlink(missing_ok=True)
        main(["map", *map(str, files), "--site", "clinic-c", "--json"])
        return [q["path"][-1] for q in json.loads(capsys.readouterr().out)["questions"]]

    assert "match_window_minutes" in questions(log, visits)
    assert "match_window_minutes" not in questions(log)  # no records to compare with
    seen = visits.read_text("utf-8").splitlines()
    same = [f"Session,{seen[0]}", *(f"{at},{row}" for at, row in enumerate(seen[1:], start=1))]
    visits.write_text("\n".join(same) + "\n", "utf-8")
    assert "match_window_minutes" not in questions(log, visits)


@pytest.mark.parametrize(
    ("name", "pattern"),
    [
        ("Trocknung_2026-03.csv", "Trocknung_*.csv"),
        ("Register April.xlsx", "Register *.xlsx"),
        ("Liste März 2026.csv", "Liste * *.csv"),
        ("Marsh list.csv", "Marsh list.csv"),
        ("decimal.csv", "decimal.csv"),
    ],
)
def test_next_months_file_fits_the_pattern_of_this_ones(name: str, pattern: str) -> None:
    from pipeline.drafting.columns import pattern_of

    assert pattern_of(name) == pattern
