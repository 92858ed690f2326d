"""Twelve mistakes of a front desk: each is told by line, and each literal fix shortens the list."""

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands.main import main
from tests.clinics import front_desk
from tests.clinics.applied import apply_edit
from tests.flows.line import Line


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    folder = made.exports / "site-a"
    folder.mkdir()
    (folder / "mapping.toml").write_text(front_desk.MAPPING, "utf-8")
    (folder / front_desk.NAME).write_text(front_desk.with_mistakes(), "utf-8")
    return made


def checked(line: Line, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    capsys.readouterr()
    file = line.exports / "site-a" / front_desk.NAME
    main(["check", str(file), "--json", "--as-of", "2026-07-01", "--show-values", *more])
    [found] = json.loads(capsys.readouterr().out)["files"]
    return dict(found)


def test_each_of_the_twelve_is_told_with_line_column_value_and_fix(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    found = checked(line, capsys)
    faults = {fault["line"]: fault for fault in found["faults"]}
    assert sorted(faults) == sorted(front_desk.MISTAKES)
    assert found["file"] == "site-a/Drying list 2026-03.csv"
    hidden = {10, 16, 24}  # a name, a code, a phone number: their shapes
    for at, (column, value, _) in front_desk.MISTAKES.items():
        fault = faults[at]
        assert fault["own_column"] == (column or "")
        if at in hidden:
            assert fault["found"] == f"text, {len(value or '')} characters"
        elif value:
            assert fault["found"] == f'"{value}"'
    by_line = {one["lines"][0]: one for one in found["to_do"]}
    assert by_line[4]["edits"][0]["value"] == "weak"
    assert by_line[4]["allowed"] == ["dead", "weak", "other_fault", "normal"]
    assert by_line[12]["edits"][0]["choices"] == ["4.25", "425"]
    assert by_line[14]["edits"][0]["choices"] == ["2026-03-13 09:30"]
    assert by_line[16]["edits"][0]["value"] == "D1"
    assert by_line[22]["edits"][0]["value"] == "45"
    assert "person's details" in by_line[10]["cause"]
    for at in (4, 6, 8, 10):  # one slip never becomes a line of the mapping
        assert {edit["do"] for edit in by_line[at]["edits"]} <= {"set_cell", "remove_line"}


def test_each_literal_fix_makes_the_next_check_shorter(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.exports / "site-a" / front_desk.NAME
    left = []
    for _ in range(20):
        found = checked(line, capsys)
        left.append(len(found["faults"]))
        if not found["to_do"]:
            break
        # From the bottom up, so that a line taken out moves no other one.
        last = max(found["to_do"], key=lambda one: one["lines"][0])
        apply_edit(last["edits"][0], line.exports, file)
    assert left[0] == 12 and left[-1] == 0
    assert all(later < earlier for earlier, later in pairwise(left)), left
    found = checked(line, capsys)
    assert (found["quarantined"], found["values_refused"], found["duplicate"]) == (0, 0, 0)


def test_columns_not_read_are_named_at_a_terminal_and_a_name_among_them_is_not(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = front_desk.rows()
    head = ",".join([*front_desk.HEADER, "Bemerkung", "Quillon Vexham"])
    text = "\n".join([head, *(",".join([*row, "", ""]) for row in rows)]) + "\n"
    file = line.exports / "site-a" / front_desk.NAME
    file.write_text(text, "utf-8")
    for more, told in (
        (["--show-values"], "dropped unread: Bemerkung, column 15 (text, 14 characters)"),
        ([], "dropped unread: column 14 (text, 9 characters), column 15 (text, 14 characters)"),
    ):
        capsys.readouterr()
        assert main(["check", str(file), "--as-of", "2026-07-01", *more]) == 0
        assert told in capsys.readouterr().out


def test_outside_a_terminal_no_value_is_shown(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.exports / "site-a" / front_desk.NAME
    capsys.readouterr()
    assert main(["check", str(file), "--as-of", "2026-07-01"]) == 3
    said = capsys.readouterr().out
    for _, value, _ in front_desk.MISTAKES.values():
        assert value is None or value == "" or value not in said
    assert "line 4: condition_before = text, 5 characters" in said


def test_what_one_fix_answers_in_many_lines_is_told_once(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    text = front_desk.with_mistakes().replace(",bte,", ",shell,")
    file = line.exports / "site-a" / front_desk.NAME
    file.write_text(text, "utf-8")
    main(["check", str(file), "--as-of", "2026-07-01", "--show-values"])
    said = capsys.readouterr().out
    assert "rows, lines 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23, 25 to 27, and 2 more): " in said
    assert said.count("shell") == 2, said  # the fix and the line to add
    assert "line 4: " in said and "line 24: " in said


def test_spans_of_lines() -> None:
    from pipeline.checking.told import _spans

    assert _spans([4, 2, 3, 9, 9]) == "2 to 4, 9"
    assert _spans(range(2, 26, 2)).endswith("22, 24")
    assert _spans(range(2, 28, 2)).endswith("24, and 1 more")
