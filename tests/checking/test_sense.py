"""Sense checks warn of what was planted, stay silent on sound months, and refuse nothing."""

import json
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands.main import main
from tests.clinics import front_desk
from tests.flows.line import Line, sessions


def month(number: int, count: int = 40, **changes: str) -> list[dict[str, str]]:
    """Return a sound month: 40 sessions with readings, minutes and temperatures that scatter."""
    return [
        row
        | {
            "session_id": f"{number}-{i}",
            "started_at": f"2026-{number:02d}-{1 + i % 28:02d}T09:{i:02d}",
            "moisture_ul": str(2 + (i * (number + 3)) % 7 + 0.25),
            "cycle_minutes": str(28 + (i * number) % 9),
            "chamber_temp_max_c": str(38 + i % 4), "device_id": f"A{i}",
            "condition_before": ("dead", "weak", "normal")[i % 3],
            "condition_after": ("normal", "normal", "normal", "weak")[i % 4],
        }
        | changes
        for i, row in enumerate(sessions(count))
    ]  # fmt: skip


@pytest.fixture
def line(tmp_path: Path) -> Line:
    made = Line(tmp_path)
    for number in (1, 2, 3, 4):
        made.write(f"site-a/sessions_2026-{number:02d}.csv", month(number))
    return made


def warned(
    line: Line, rows: list[dict[str, str]], capsys: pytest.CaptureFixture[str], name: str = "05"
) -> tuple[list[str], dict[str, Any]]:
    file = line.write(f"site-a/sessions_2026-{name}.csv", rows)
    capsys.readouterr()
    main(["check", str(file), "--json", "--as-of", "2026-07-01"])
    [found] = json.loads(capsys.readouterr().out)["files"]
    return found["warnings"], found


def test_a_sound_month_draws_no_warning(line: Line, capsys: pytest.CaptureFixture[str]) -> None:
    warnings, found = warned(line, month(5), capsys)
    assert warnings == [] and found["accepted"] == 40


@pytest.mark.parametrize(
    ("planted", "told"),
    [
        ("numbers", "cycle_minutes and moisture_ul are likely swapped"),
        ("words", "condition_before and condition_after are likely swapped"),
        ("ids", "device_id is missing in 24 of 40 rows"),
        ("unit", "moisture_ul jumped: the middle value is"),
        ("copy", "of the first 40 rows repeat those of site-a/sessions_2026-03.csv"),
    ],
)
def test_what_is_planted_is_told_and_every_row_still_counts(
    planted: str, told: str, line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = month(5)
    for i, row in enumerate(rows):
        if planted == "numbers":
            row["cycle_minutes"], row["moisture_ul"] = row["moisture_ul"], row["cycle_minutes"]
        elif planted == "words":
            names = ("condition_before", "condition_after")
            row[names[0]], row[names[1]] = row[names[1]], row[names[0]]
        elif planted == "ids" and i % 5 < 3:
            row["device_id"] = ""
        elif planted == "unit":
            row["moisture_ul"] = str(10 * float(row["moisture_ul"]))
        elif planted == "copy":
            same = month(3)[i]
            rows[i] = same | {"session_id": row["session_id"], "started_at": row["started_at"]}
    warnings, found = warned(line, rows, capsys)
    assert any(told in sentence for sentence in warnings), warnings
    assert len(warnings) == 1
    assert (found["accepted"], found["quarantined"], found["values_refused"]) == (40, 0, 0)


def test_a_month_that_shrank_is_told_and_the_last_one_is_not(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.write("site-a/sessions_2026-05.csv", month(5))
    line.write("site-a/sessions_2026-06.csv", month(6))
    warnings, _ = warned(line, month(4, 13), capsys, "04")
    assert warnings == ["2026-04 has 13 rows, the site's other months 40: is a part of it missing?"]
    line.write("site-a/sessions_2026-04.csv", month(4))
    warnings, _ = warned(line, month(6, 13), capsys, "06")
    assert warnings == []


def test_unlisted_mistakes_of_a_front_desk_draw_no_warning(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = line.exports / "site-a"
    (folder / "mapping.toml").write_text(front_desk.MAPPING, "utf-8")
    (folder / front_desk.NAME).write_text(front_desk.with_mistakes(), "utf-8")
    capsys.readouterr()
    main(["check", str(folder / front_desk.NAME), "--json", "--as-of", "2026-07-01"])
    [found] = json.loads(capsys.readouterr().out)["files"]
    assert found["warnings"] == []
