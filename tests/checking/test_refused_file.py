"""A refusal of a whole file carries what lifts it, and a machine that does it gets on."""

import io
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pipeline.commands.main import main
from tests.clinics.applied import apply_edit
from tests.flows.line import Line, sessions

HEAD = "started_at,device_style,condition_before,device_id,moisture_ul,chamber_temp_max_c"
ROWS = [
    f"2026-03-{1 + i % 27:02d}T09:{i % 60:02d},ric,dead,A{i},{1 + i % 7}.5,{38 + i % 4}"
    for i in range(40)
]
PLAIN = "\n".join([HEAD, *ROWS]) + "\n"
GERMAN = PLAIN.replace(",", ";").replace(".5;", ",5;")
OTHER_ORDER = "\n".join(
    [HEAD, *(f"{1 + i % 27:02d}/03/2026 09:00,ric,dead,A{i},2,38" for i in range(40))]
)
AMBIGUOUS = "\n".join(
    [HEAD, *(f"{1 + i % 12:02d}/03/2026 09:{i:02d},ric,dead,A{i},2,38" for i in range(40))]
)
FAHRENHEIT = "\n".join(
    [HEAD, *(f"2026-03-{1 + i % 27:02d}T09:00,ric,dead,A{i},2,{68 + i % 9}" for i in range(40))]
)


def book(*sheets: str, banner: bool = False) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name in sheets:
        sheet = made.create_sheet(name)
        if banner:
            sheet.append(["Visit", "", "", "Aid", "", ""])
            sheet.merge_cells("A1:C1")
            sheet.merge_cells("D1:F1")
        for row in PLAIN.splitlines() if name != "Notes" else ["for us"]:
            sheet.append(row.split(","))
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def cells(*own: str) -> dict[str, str]:
    return dict(zip(HEAD.split(","), own, strict=True))


# Name: file's name, its bytes, the mapping that is there, and the keys that lift the refusals in
# their order: what to write, where a person has to choose.
CASES: dict[str, tuple[str, bytes, str, list[tuple[str, Any]]]] = {
    "semicolons and decimal commas": (
        "sessions.csv", GERMAN.replace("condition_before", "Zustand vorher").encode(), "",
        [("delimiter", ";"), ("condition_before", "Zustand vorher"), ("decimal_comma", True)]),
    "a banner": (
        "sessions.csv", f"Drying list\n\n{PLAIN}".encode(), "", [("skip_lines", 2)]),
    "too many lines skipped": (
        "sessions.csv", PLAIN.encode(), "[sessions]\nskip_lines = 99\n", [("skip_lines", 0)]),
    "too many header rows": (
        "sessions.csv", HEAD.encode() + b"\n", "[sessions]\nheader_rows = 3\n",
        [("header_rows", 1)]),
    "an encoding of old": (
        "sessions.csv", PLAIN.replace("A7,", "Ä7,").encode("cp1252"), "",
        [("encoding", "cp1252")]),
    "an encoding that is none": (
        "sessions.csv", PLAIN.encode(), "[sessions]\nencoding = 'utf9'\n", [("encoding", "utf-8")]),
    "UTF-16": ("sessions.csv", PLAIN.encode("utf-16"), "", [("encoding", "utf-16")]),
    "a delimiter of two characters": (
        "sessions.csv", PLAIN.encode(), "[sessions]\ndelimiter = ';;'\n", [("delimiter", ",")]),
    "a column of another name": (
        "sessions.csv", PLAIN.replace("condition_before", "Zustand vorher").encode(), "",
        [("condition_before", "Zustand vorher")]),
    "two columns of other names": (
        "sessions.csv",
        PLAIN.replace("condition_before", "Zustand vorher").replace("started_at", "Beginn")
        .encode(), "", [("started_at", "Beginn"), ("condition_before", "Zustand vorher")]),
    "a column that the mapping names wrong": (
        "sessions.csv", PLAIN.replace("device_style", "Bauform").encode(),
        '[sessions.columns]\ndevice_style = "Bauforn"\n', [("device_style", "Bauform")]),
    "the air's pressure that the mapping names wrong": (
        "sessions.csv", PLAIN.replace("moisture_ul", "Luftdruck").encode(),
        '[sessions]\nbarometer_kpa_column = "Luftdruk"\n',
        [("barometer_kpa_column", "Luftdruck")]),
    "another order of day and month": (
        "sessions.csv", OTHER_ORDER.encode(), "", [("date_order", "dmy")]),
    "an order that may be either": (
        "sessions.csv", AMBIGUOUS.encode(), "", [("date_order", "dmy")]),
    "an order that dates belie": (
        "sessions.csv", OTHER_ORDER.encode(), "[sessions]\ndate_order = 'mdy'\n",
        [("date_order", "dmy")]),
    "day numbers": (
        "sessions.csv", PLAIN.replace("2026-03-", "460").replace("T09:", ".").encode(), "",
        [("serial_dates", "1900")]),
    "degrees Fahrenheit": (
        "sessions.csv", FAHRENHEIT.encode(), "", [("chamber_temp_max_c", "degF")]),
    "degrees Fahrenheit that the mapping says are Celsius": (
        "sessions.csv", "\n".join([HEAD, *(
            f"2026-03-{1 + i % 27:02d}T09:00,ric,dead,A{i},2,{68 + i % 9}" for i in range(40)
        )]).encode(), "[sessions.units]\nchamber_temp_max_c = 'degC'\n",
        [("chamber_temp_max_c", "degF")]),
    "several sheets": (
        "sessions.xlsx", book("Notes", "March"), "", [("sheet", "March")]),
    "a sheet that is not there": (
        "sessions.xlsx", book("March"), "[sessions]\nsheet = 'Marsh'\n", [("sheet", "March")]),
    "a pattern that two sheets fit": (
        "sessions.xlsx", book("March", "March old"), "[sessions]\nsheet = 'March*'\n",
        [("sheet", "March")]),
}  # fmt: skip


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    return Line(tmp_path)


def checked(file: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    capsys.readouterr()
    main(["check", str(file), "--json", "--as-of", "2026-07-01", "--show-values", *more])
    [found] = json.loads(capsys.readouterr().out)["files"]
    return dict(found)


@pytest.mark.parametrize("name", CASES)
def test_each_way_out_is_told_and_leads_on(
    name: str, line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    own, data, mapping, ways = CASES[name]
    file = line.exports / "site-a" / own
    file.parent.mkdir()
    file.write_bytes(data)
    if mapping:
        (file.parent / "mapping.toml").write_text(mapping, "utf-8")
    seen = []
    for key, wanted in ways:
        found = checked(file, capsys)
        assert found["status"] == "refused" and found["refusal"] not in seen
        seen.append(found["refusal"])
        edit = found["to_do"][0]["edits"][0]
        assert edit["path"][-1] == key
        assert edit["file"] == "site-a/mapping.toml" and edit["path"][0] == "sessions"
        offered = [edit["value"]] if "value" in edit else edit["choices"]
        assert wanted in offered, edit
        apply_edit(edit | {"value": wanted}, line.exports, file)
    found = checked(file, capsys)
    assert found["refusal"] == "" and found["status"] != "refused", found
    assert found["accepted"] >= (0 if "header" in name else 39), found


def test_the_likeliest_is_offered_first_and_an_impossible_one_never(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    (line.exports / "site-a").mkdir()
    file = line.exports / "site-a" / "sessions.csv"

    def offered(data: str) -> list[Any]:
        file.write_text(data, "utf-8")
        edit = checked(file, capsys)["to_do"][0]["edits"][0]
        return list(edit.get("choices", []))

    assert offered(OTHER_ORDER) == ["dmy"]
    assert offered(AMBIGUOUS) == ["dmy", "mdy"]
    assert offered(FAHRENHEIT) == ["degF"]
    choices = offered(PLAIN.replace("condition_before", "Zustand vorher").replace(
        "device_id", "Seriennummer"))  # fmt: skip
    assert choices[0] == "Zustand vorher"


def test_no_name_of_a_person_is_offered_as_a_column(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    (line.exports / "site-a").mkdir()
    file = line.exports / "site-a" / "sessions.csv"
    file.write_text(PLAIN.replace("condition_before", "Quillon Vexham"), "utf-8")
    found = checked(file, capsys)
    assert found["status"] == "refused"
    assert "Vexham" not in json.dumps(found)
    # Outside the user's own terminal no edit is given at all.
    main(["check", str(file), "--json", "--as-of", "2026-07-01"])
    [hidden] = json.loads(capsys.readouterr().out)["files"]
    assert hidden["to_do"][0]["edits"] == [] and hidden["to_do"][0]["cause"]


def test_every_mistake_of_a_mapping_is_told_in_one_round(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of its form and against the contract, by `check` and by `refresh` alike."""
    file = line.write("site-a/sessions_2026-01.csv", sessions(3))
    (file.parent / "mapping.toml").write_text(
        "[sessions]\nskip_line = 0\ndate_order = 'dym'\n[sessions.units]\n"
        "cycle_minutes = 'parsec'\nmoisture_ul = 'furlong'\n[sessions.values.ear]\n'L' = 'lef'\n"
    )
    told = checked(file, capsys)["refusal"]
    for at in (2, 3, 5, 6, 8):
        assert f"site-a/mapping.toml, line {at}: " in told
    assert told.count("site-a/mapping.toml, line") == 5
    assert "5 mistakes. No file of this site was read." in told
    line.refresh(capsys)
    [[message]] = line.ask("SELECT message FROM export_file WHERE file LIKE 'site-a/%'")
    assert message == told


def test_each_mistake_of_a_mapping_that_a_machine_mends_shortens_the_next_check(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.write("site-a/sessions_2026-01.csv", sessions(3))
    (file.parent / "mapping.toml").write_text(
        "[sessions]\nskip_line = 0\ndate_order = 'dym'\n[sessions.units]\n"
        "cycle_minutes = 'parsec'\nmoisture_ul = 'furlong'\n[sessions.values.ear]\n'L' = 'lef'\n"
    )
    left = []
    for _ in range(8):
        found = checked(file, capsys)
        left.append(found["refusal"].count("mapping.toml, line"))
        if not left[-1]:
            break
        apply_edit(found["to_do"][0]["edits"][0], line.exports, file)
    assert left == [5, 4, 3, 2, 1, 0]
    assert found["accepted"] == 3
