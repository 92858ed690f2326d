"""The forms: a filled spreadsheet loads as it is, and the paper has the contract's columns."""

import datetime
from pathlib import Path

import pytest
from openpyxl import load_workbook

from pipeline.commands.main import main
from reports.bench_log import COLUMNS, bench_log
from reports.spreadsheet_form import spreadsheet_form
from schemas.exports.catalogue import EXPORTS, columns_of
from tests.flows.line import Line, measure_only

SPECS = {spec.name: spec for spec in columns_of(EXPORTS["sessions"])}
FILLED = {
    "session_id": "S1", "device_id": "A10482", "patient_id": "0012345678901234567",
    "dryer_id": "D1", "started_at": datetime.datetime(2026, 3, 10, 9, 5), "ear": "left",
    "device_style": "ric", "condition_before": "dead", "condition_after": "normal",
    "moisture_ul": 4.25, "parts_changed": "wax_guard;dome", "cycle_minutes": 30,
    "fitted_on": datetime.date(2024, 5, 1), "disposition": "returned_to_wearer",
}  # fmt: skip


def fill(path: Path, rows: list[dict[str, object]]) -> None:
    book = load_workbook(path)
    sheet = book.active
    at = {cell.value: cell.column for cell in sheet[1]}
    for number, row in enumerate(rows, start=2):
        for name, value in row.items():
            sheet.cell(number, at[name], value)
    book.save(path)


def test_a_filled_form_loads_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    line = Line(tmp_path)
    assert main(["template", "--site", "site-a", "--into", str(line.exports)]) == 0
    second = FILLED | {"session_id": "S2", "device_id": "A2", "condition_before": "weak"}
    fill(line.exports / "site-a" / "sessions.xlsx", [FILLED, second])
    check = {
        "dryer_id": "D1", "checked_at": datetime.datetime(2026, 3, 1, 8, 0), "dose_ul": 10,
        "reading_ul": 9.8,
    }  # fmt: skip
    fill(line.exports / "site-a" / "dose_checks.xlsx", [check])
    code, outcome = line.refresh(capsys)
    assert code == 0
    live = {row["file"]: row["accepted"] for row in outcome["files"]}
    assert live["site-a/sessions.xlsx"] == 2
    assert live["site-a/dose_checks.xlsx"] == 1
    assert line.ask(
        "SELECT started_at_utc::VARCHAR, moisture_ul, parts_changed, fitted_on::VARCHAR"
        " FROM session_aid WHERE condition_before = 'dead'"
    ) == [("2026-03-10 09:05:00+00", 4.25, ["wax_guard", "dome"], "2024-05-01")]
    # What may be filled in is never written over.
    assert main(["template", "--site", "site-a", "--into", str(line.exports)]) == 2


@pytest.mark.parametrize("table", ["sessions", "dose_checks"])
def test_the_form_is_the_contract(tmp_path: Path, table: str) -> None:
    path = tmp_path / "form.xlsx"
    path.write_bytes(spreadsheet_form(EXPORTS[table]))
    sheet = load_workbook(path).active
    header = [cell.value for cell in sheet[1]]
    specs = {spec.name: spec for spec in columns_of(EXPORTS[table])}
    assert header == [name for name in specs if name != "site_id"]
    rules = {str(rule.sqref).split("2:")[0]: rule for rule in sheet.data_validations.dataValidation}
    for cell in sheet[1]:
        spec, rule = specs[cell.value], rules[cell.column_letter]
        if spec.vocabulary and not spec.several:
            assert rule.formula1 == '"' + ",".join(spec.vocabulary) + '"'
        if spec.hashed:
            assert sheet.column_dimensions[cell.column_letter].number_format == "@"


def test_the_paper_has_every_required_column_and_its_words() -> None:
    page = bench_log("site<a>", SPECS)
    assert {c.name for c in COLUMNS} <= set(SPECS)
    needed = {name for name, spec in SPECS.items() if spec.required} - {"site_id"}
    assert needed <= {c.name for c in COLUMNS}
    assert "<a>" not in page and "site&lt;a&gt;" in page
    for word in (*(SPECS["device_style"].vocabulary or ()), "zinc-air", "lithium-ion"):
        assert word in page
