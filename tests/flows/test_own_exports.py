"""Whatever form a clinic's own export has, the same live rows come of it."""

from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.flows.line import SITE, Line, measure_only

VISITS = [
    # session, wearer, start, water in µL, left and right: aid, style, before, after
    ("S1", "W1", "2026-03-10T09:00", "4.2", ("A1", "ric", "dead", "normal"),
     ("A2", "ric", "weak", "normal")),
    ("S2", "W2", "2026-03-10T10:00", "LOW", ("A3", "bte", "dead", "dead"), None),
    ("S3", "W3", "2026-07-01T23:30", "12.5", None, ("A4", "itc", "normal", "")),
]  # fmt: skip
GERMAN = {
    "dead": "defekt", "weak": "schwach", "normal": "in Ordnung", "ric": "Ex-Hörer",
    "bte": "HdO", "itc": "Gehörgang", "left": "links", "right": "rechts", "": "",
}  # fmt: skip
WORDS = """
[sessions.values.condition_before]
"Defekt" = "dead"
"schwach" = "weak"
"in Ordnung" = "normal"
[sessions.values.condition_after]
"Defekt" = "dead"
"schwach" = "weak"
"in Ordnung" = "normal"
[sessions.values.device_style]
"Ex-Hörer" = "ric"
"HdO" = "bte"
"Gehörgang" = "itc"
[sessions.values.ear]
"links" = "left"
"rechts" = "right"
"""
GERMAN_MAPPING = (
    """
[sessions]
files = ["Trocknung*.csv"]
delimiter = ";"
encoding = "cp1252"
decimal_comma = true
date_order = "dmy"
below_detection = ["n. n."]
[sessions.columns]
session_id = "Vorgang"
patient_id = "Kunde"
device_id = "Gerät"
ear = "Seite"
device_style = "Bauform"
started_at = ["Datum", "Uhrzeit"]
condition_before = "vorher"
condition_after = "nachher"
moisture_ul = "Wasser"
chamber_temp_max_c = "Temp"
chamber_pressure_min_kpa_abs = "Druck"
[sessions.units]
moisture_ul = "mL"
chamber_temp_max_c = "degF"
chamber_pressure_min_kpa_abs = "mmHg absolute"
[sessions.constants]
dryer_id = "D1"
"""
    + WORDS
)
SIDES_MAPPING = """
[sessions]
below_detection = ["LOW"]
[sessions.left]
device_id = "L aid"
device_style = "L style"
condition_before = "L before"
condition_after = "L after"
[sessions.right]
device_id = "R aid"
device_style = "R style"
condition_before = "R before"
condition_after = "R after"
"""
LOG_MAPPING = """
[chamber_runs]
files = ["log_*.csv"]
below_detection = ["LOW"]
clock_offset_minutes = 60
match_window_minutes = 15
zone = "Etc/GMT-1"
[chamber_runs.columns]
started_at = "Start"
dryer_id = "Unit"
moisture_ul = "Water"
session_id = "Run"
"""
SHEET_MAPPING = """
[sessions]
files = ["Monthly list*.xlsx"]
sheet = "March"
skip_lines = 3
below_detection = ["LOW"]
[sessions.columns]
started_at = "Began"
moisture_ul = "Water"
"""
COMPARED = (
    "site_id, session_id, device_id, patient_id, treatment, dryer_id, ear, device_style,"
    " condition_before, condition_after, moisture_ul, is_moisture_below_detection,"
    " chamber_temp_max_c, chamber_pressure_min_kpa_abs, started_at_utc, local_date,"
    " time_precision, session_key, season, is_below_detection, aids_in_chamber, is_complete,"
    " episode_id, cycle_number, days_since_last_dry"
)


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    # These tests look at rows and their account, so no measure is computed.
    measure_only(monkeypatch)
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE | {"time_zone": "Europe/Berlin"}])
    return made


def canonical() -> list[dict[str, str]]:
    rows = []
    for session, wearer, start, water, *sides in VISITS:
        for ear, side in zip(("left", "right"), sides, strict=True):
            if side is None:
                continue
            aid, style, before, after = side
            rows.append({
                "session_id": session, "patient_id": wearer, "device_id": aid, "ear": ear,
                "device_style": style, "started_at": start, "condition_before": before,
                "condition_after": after, "dryer_id": "D1",
                "moisture_ul": "" if water == "LOW" else water,
                "is_moisture_below_detection": "true" if water == "LOW" else "",
                "chamber_temp_max_c": "40", "chamber_pressure_min_kpa_abs": "4",
            })  # fmt: skip
    return rows


def mapping(line: Line, text: str) -> None:
    (line.exports / "site-a").mkdir(parents=True, exist_ok=True)
    (line.exports / "site-a" / "mapping.toml").write_text(text, "utf-8")


def write_canonical(line: Line) -> None:
    line.write("site-a/sessions_2026.csv", canonical())


def write_german(line: Line) -> None:
    mapping(line, GERMAN_MAPPING)
    head = "Vorgang;Kunde;Gerät;Seite;Bauform;Datum;Uhrzeit;vorher;nachher;Wasser;Temp;Druck"
    lines = [head]
    for row in canonical():
        year, month, day = row["started_at"][:10].split("-")
        water = row["moisture_ul"]
        in_ml = f"{float(water) / 1000:.5f}".replace(".", ",") if water else "n. n."
        lines.append(
            ";".join([
                row["session_id"], row["patient_id"], row["device_id"], GERMAN[row["ear"]],
                GERMAN[row["device_style"]], f"{day}.{month}.{year}", row["started_at"][11:],
                GERMAN[row["condition_before"]], GERMAN[row["condition_after"]], in_ml,
                "104", "30",
            ])
        )  # fmt: skip
    content = "\r\n".join(lines) + "\r\n"
    (line.exports / "site-a" / "Trocknung März.csv").write_bytes(content.encode("cp1252"))


def write_sides(line: Line) -> None:
    mapping(line, SIDES_MAPPING)
    rows = []
    for session, wearer, start, water, *sides in VISITS:
        row = {
            "session_id": session, "patient_id": wearer, "started_at": start, "dryer_id": "D1",
            "moisture_ul": water, "chamber_temp_max_c": "40", "chamber_pressure_min_kpa_abs": "4",
        }  # fmt: skip
        for letter, side in zip("LR", sides, strict=True):
            for name, value in zip(
                ("aid", "style", "before", "after"), side or ("",) * 4, strict=True
            ):
                row[f"{letter} {name}"] = value
        rows.append(row)
    line.write("site-a/sessions_2026.csv", rows)


def write_sheet(line: Line) -> None:
    """A workbook with a banner above the header, starts as serial dates, and a second sheet."""
    mapping(line, SHEET_MAPPING)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "March"
    book.create_sheet("Notes").append(["for the staff room"])
    sheet.append(["Made Up Clinic, list of dryings"])
    sheet.append(["printed on", datetime(2026, 7, 2)])
    sheet.append([])
    names = {"started_at": "Began", "moisture_ul": "Water"}
    kept = [name for name in canonical()[0] if name != "is_moisture_below_detection"]
    sheet.append([names.get(name, name) for name in kept])
    for row in canonical():
        told = row | {"moisture_ul": row["moisture_ul"] or "LOW"}
        cells = [told[name] for name in kept]
        cells[kept.index("started_at")] = datetime.fromisoformat(row["started_at"])
        if row["moisture_ul"]:
            cells[kept.index("moisture_ul")] = float(row["moisture_ul"])
        sheet.append(cells)
    book.save(line.exports / "site-a" / "Monthly list 2026.xlsx")


LOGGED = ("moisture_ul", "is_moisture_below_detection", "dryer_id", "session_id")


def records(start_later: str = "") -> list[dict[str, str]]:
    """Return the clinic's own records: no water reading, the start a few minutes off."""
    rows = [{k: v for k, v in row.items() if k not in LOGGED[:3]} for row in canonical()]
    if start_later:
        for row in rows:
            row["started_at"] = row["started_at"][:-1] + start_later
            row["session_id"] = ""
    return rows


def log() -> list[dict[str, str]]:
    """Return the chamber's log: its clock an hour behind winter time, one run without an aid.

    23:30 in Berlin on 1 July is 22:30 winter time, 21:30 by the chamber's clock.
    """
    starts = {"S1": "2026-03-10 08:00", "S2": "2026-03-10 09:00", "S3": "2026-07-01 21:30"}
    rows = [
        {"Run": session, "Unit": "D1", "Start": starts[session], "Water": water}
        for session, _, _, water, *_ in VISITS
    ]
    return [*rows, {"Run": "S9", "Unit": "D1", "Start": "2026-03-11 07:00", "Water": "0.9"}]


def write_log_by_session(line: Line) -> None:
    mapping(line, LOG_MAPPING)
    line.write("site-a/sessions_2026.csv", records())
    line.write("site-a/log_2026.csv", log())


def write_log_by_time(line: Line) -> None:
    mapping(line, LOG_MAPPING)
    line.write("site-a/sessions_2026.csv", records("4"))
    line.write("site-a/log_2026.csv", log())


def live(line: Line) -> list[tuple[Any, ...]]:
    return line.ask(f"SELECT {COMPARED} FROM session_aid ORDER BY ALL")


def test_the_same_live_rows_come_of_every_form(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    found: dict[str, list[tuple[Any, ...]]] = {}
    forms = (
        write_canonical, write_german, write_sheet, write_sides, write_log_by_session,
        write_log_by_time,
    )  # fmt: skip
    for at, write in enumerate(forms):
        line.store = line.store.parent / f"store-{at}"
        for old in (line.exports / "site-a").glob("*"):
            old.unlink()
        write(line)
        code, outcome = line.refresh(capsys)
        assert code == 0, (write.__name__, outcome)
        totals = outcome["totals"]
        assert totals["rows_read"] == totals["accepted"], write.__name__
        found[write.__name__] = live(line)
        if write is write_sides:
            [own] = [row for row in outcome["files"] if row["table"] == "sessions"]
            assert (own["lines_read"], own["rows_read"]) == (3, 4)
        if "log" in write.__name__:
            classes = "SELECT run_class, count(*) FROM chamber_run GROUP BY 1 ORDER BY 1"
            assert line.ask(classes) == [("aid_recorded", 3), ("no_aid_recorded", 1)]
    wanted = found.pop("write_canonical")
    assert len(wanted) == 4
    for form, rows in found.items():
        assert rows == wanted, form


def test_a_record_near_two_runs_waits_and_a_log_that_differs_is_told(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    mapping(line, LOG_MAPPING)
    rows = records("4")
    rows[2]["moisture_ul"] = "7.0"
    line.write("site-a/sessions_2026.csv", rows)
    two_near = log()
    two_near[0]["Start"], two_near[3]["Start"] = "2026-03-10 08:00", "2026-03-10 08:10"
    two_near[1]["Water"] = "6.0"
    line.write("site-a/log_2026.csv", two_near)
    code, _ = line.refresh(capsys)
    assert code == 3
    assert line.ask("SELECT rule, count(*) FROM quarantined_row GROUP BY 1") == [("one_run", 2)]
    assert line.ask("SELECT column_name, found FROM refused_value") == [("moisture_ul", "7.0")]
    assert line.ask("SELECT moisture_ul FROM session ORDER BY started_at_utc") == [(6.0,), (12.5,)]
    classes = "SELECT run_class, count(*) FROM chamber_run GROUP BY 1 ORDER BY 1"
    assert line.ask(classes) == [("aid_recorded", 2), ("ambiguous", 2)]


def test_rolling_files_merge_by_key(line: Line, capsys: pytest.CaptureFixture[str]) -> None:
    mapping(line, "[sessions]\nexport = 'rolling'\n")
    rows = canonical()
    line.write("site-a/sessions.csv", rows[:3])
    line.refresh(capsys)
    line.write("site-a/sessions.csv", [rows[2] | {"condition_after": "weak"}, rows[3]])
    code, outcome = line.refresh(capsys)
    assert (code, outcome["totals"]["duplicate"]) == (0, 1)
    after = line.ask("SELECT condition_after, count(*) FROM session_aid GROUP BY 1 ORDER BY 1")
    assert after == [("normal", 2), ("weak", 1), (None, 1)]
    assert line.ask("SELECT DISTINCT rule FROM quarantined_row") == [("duplicate",)]


def test_a_changed_mapping_reads_its_site_again_and_a_broken_one_keeps_what_was(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    write_canonical(line)
    line.refresh(capsys)
    conditions = "SELECT condition_before, count(*) FROM session_aid GROUP BY 1 ORDER BY 1"
    before = line.ask(conditions)
    for broken, told in (
        ("[sessions]\ndelimeter = ';'\n", "site-a/mapping.toml, line 2"),
        ("[sessions.columns]\nmoisture_ul = 'Water'\n", "column 'Water' is missing"),
    ):
        mapping(line, broken)
        code, outcome = line.refresh(capsys)
        assert code == 3
        assert told in " ".join(row["message"] for row in outcome["files"])
        assert line.ask(conditions) == before
    mapping(line, "[sessions.values.condition_before]\n'dead' = 'weak'\n")
    assert line.refresh(capsys)[0] == 0
    assert line.ask(conditions) == [("normal", 1), ("weak", 3)]


def test_corrections_are_applied_counted_and_kept_without_identifiers(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = canonical()
    rows[3]["condition_before"] = "nromal"
    line.write("site-a/sessions_2026.csv", rows)
    match = "started_at=2026-03-10 09:00; device_id=A1"
    fixes = [
        {"match": match, "column": "condition_after", "value": "weak"},
        {"match": "session_id=S3;device_id=A4", "column": "condition_before", "value": "normal"},
        {"match": "session_id=S1", "column": "ear", "value": "left"},
        {"match": "session_id=S7; device_id=A1", "column": "ear", "value": "left"},
    ]  # fmt: skip
    told = {"reason": "typing error", "decided_by": "Ann Example"}
    line.write("site-a/corrections.csv", [fix | told for fix in fixes])
    code, outcome = line.refresh(capsys)
    assert code == 0
    assert outcome["corrections"] == {
        "applied": 2, "no_row_matches": 1, "several_rows_match": 1,
    }  # fmt: skip
    dead = "SELECT condition_after FROM session_aid WHERE condition_before = 'dead' ORDER BY 1"
    assert line.ask(dead) == [("dead",), ("weak",)]
    assert line.ask("SELECT line, status, match_columns, reason, decided_by FROM correction"
                    " ORDER BY line LIMIT 1") == [
        (2, "applied", "started_at;device_id", "typing error", "text, 11 characters")
    ]  # fmt: skip
    line.write("site-a/sessions_2027.csv", [rows[0] | {"session_id": "S9", "device_id": "A9"}])
    _, outcome = line.refresh(capsys)
    assert outcome["corrections"] == {
        "applied": 2, "no_row_matches": 1, "several_rows_match": 1,
    }  # fmt: skip
    (line.exports / "site-a" / "corrections.csv").write_text(
        "match,column,value,reason,decided_by\ndevice_id=A1,ear,left,typing error,director\n"
    )
    code, outcome = line.refresh(capsys)
    assert code == 3
    assert "site-a/corrections.csv, line 2: match does not tell one row" in " ".join(
        row["message"] for row in outcome["files"]
    )
