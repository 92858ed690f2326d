"""Identifiers that look like codes, numbers or dates: test boxes, long numbers, names of files."""

from datetime import date
from pathlib import Path

import pytest

from pipeline.intake.names import safe_name
from tests.flows.line import SITE, Line, measure_only, sessions

PERSON = "QUILLONVEXHAM"
BOXES = "SELECT site_id, test_box_id, count(*) FROM session_aid GROUP BY ALL ORDER BY ALL"


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b", "site_name": "Other"}])
    dryers = [{"site_id": s, "dryer_id": "D1"} for s in ("site-a", "site-b")]
    made.write("reference/dryers.csv", dryers)
    for site in ("site-a", "site-b"):
        rows = sessions(6)
        for at, row in enumerate(rows):
            row["test_box_id"] = ("TB1", PERSON, "")[at % 3]
        made.write(f"{site}/sessions_2026-01.csv", rows)
    repeat = {
        "site_id": "site-a", "device_id": "A1", "measured_at": "2025-12-01T09:00",
        "test_box_id": PERSON, "first_hfa_gain_db": "40", "second_hfa_gain_db": "41",
    }  # fmt: skip
    made.write("site-a/repeat_measurements_2025.csv", [repeat])
    return made


def holds(line: Line, word: str) -> bool:
    return any(word.encode() in p.read_bytes() for p in line.store.rglob("*") if p.is_file())


def test_a_box_that_is_not_listed_is_hashed_and_shown_by_number(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two sites write the same ids; the box of the earlier repeat measurement is site-a's first."""
    assert line.refresh(capsys)[0] == 0
    assert line.ask(BOXES) == [
        ("site-a", "box 1", 2), ("site-a", "box 2", 2), ("site-a", None, 2),
        ("site-b", "box 1", 2), ("site-b", "box 2", 2), ("site-b", None, 2),
    ]  # fmt: skip
    assert line.ask("SELECT site_id, test_box_id FROM repeat_measurement") == [("site-a", "box 1")]
    assert not holds(line, PERSON)
    # The list changes: the site's files are screened again, the other site's stay hashed.
    line.write("reference/test_boxes.csv", [{"site_id": "site-a", "test_box_id": "TB1"}])
    _, outcome = line.refresh(capsys)
    assert outcome["nothing_new"] is False
    assert line.ask(BOXES) == [
        ("site-a", "TB1", 2), ("site-a", "box 1", 2), ("site-a", None, 2),
        ("site-b", "box 1", 2), ("site-b", "box 2", 2), ("site-b", None, 2),
    ]  # fmt: skip
    assert not holds(line, PERSON)
    assert line.refresh(capsys)[1]["nothing_new"] is True
    (line.exports / "reference" / "test_boxes.csv").unlink()
    line.refresh(capsys)
    assert ("site-a", "box 2", 2) in line.ask(BOXES)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("site,box\nsite-a,TB1\n", "line 1"), ("site_id,test_box_id\nsite-a\n", "line 2"),
        ("site_id,test_box_id\nsite-a," + "x" * 41 + "\n", "line 2"), ("\xff\xfe", "line 1"),
    ],
)  # fmt: skip
def test_a_list_that_cannot_be_used_stops_the_run_and_names_its_line(
    line: Line, capsys: pytest.CaptureFixture[str], text: str, told: str
) -> None:
    (line.exports / "reference" / "test_boxes.csv").write_text(text, encoding="utf-8")
    code, outcome = line.refresh(capsys)
    assert code == 1
    assert f"reference/test_boxes.csv, {told}" in outcome["error"]
    assert "Nothing was loaded" in outcome["error"]


def test_a_number_as_long_as_a_telephone_number_is_shown_by_its_size(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """Among refused values and in the kept cells of a refused row; just inside and outside."""
    rows = sessions(5)
    rows[0]["moisture_ul"] = "99999"
    rows[1]["moisture_ul"] = "100000"
    rows[2]["moisture_ul"] = "7700900123"
    rows[3] |= {"cycle_minutes": "19310203", "device_style": "no word"}
    line.write("site-b/sessions_2026-02.csv", rows)
    assert line.refresh(capsys)[0] == 3
    found = line.ask("SELECT found FROM refused_value ORDER BY line")
    assert [text for (text,) in found][:3] == ["99999.0", "number, 6 digits", "number, 10 digits"]
    [(row,)] = line.ask("SELECT row_json FROM quarantined_row WHERE column_name = 'device_style'")
    assert "number, 8 digits" in row
    for word in ("7700900123", "19310203"):
        assert not holds(line, word)


@pytest.mark.parametrize(
    ("name", "is_shown"),
    [
        ("sessions_1931-02-03.csv", False), ("sessions_1999-12.csv", False),
        ("sessions_2000-01-01.csv", True), ("sessions_2026-07.csv", True),
        ("sessions_2026-12-31.csv", True), ("sessions_2027-01-01.csv", False),
        ("sessions_2026-13.csv", False), ("sessions_1931.csv", False), ("sessions.csv", True),
    ],
)  # fmt: skip
def test_a_date_in_a_file_name_that_can_be_a_birth_date_is_masked(
    name: str, is_shown: bool
) -> None:
    assert (safe_name(name, "sessions", date(2026, 7, 1)) == name) is is_shown
