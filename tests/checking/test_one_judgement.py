"""`check` judges as `refresh` does: on every fault file and on generated ones."""

import json
import os
import re
import shutil
import zipfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.checking.asked import asked
from pipeline.checking.faults import faults_of, own_table
from pipeline.commands.main import main
from pipeline.trial import Judged, trial
from tests.clinics import front_desk
from tests.faults.test_input_files import fresh, hostile, table_of_rows, text
from tests.flows.line import SITE, Line, measure_only, sessions
from tests.intake.made_files import make
from tests.intake.sheets import workbook

AS_OF = "2026-07-01"
COUNTS = ("rows_read", "accepted", "quarantined", "duplicate", "values_refused", "skipped_lines")
# Ten sites of fifty files are compared by command (DRYTALLY_ALL_MADE_FILES=1), three here.
SEED, SITES, FILES = 20261126, 10 if os.environ.get("DRYTALLY_ALL_MADE_FILES") else 3, 50


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b", "site_name": "Other"}])
    made.write(
        "reference/dryers.csv", [{"site_id": s, "dryer_id": "D1"} for s in ("site-a", "site-b")]
    )
    return made


def refreshed(line: Line, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """Return status, message, counts and lists of every file as a refresh has them."""
    line.refresh(capsys)
    rows = line.ask(
        "SELECT coalesce(a.file || '/' || a.member, a.file), a.status, e.message, a.rows_read,"
        " a.accepted, a.quarantined, a.duplicate, a.values_refused, a.skipped_lines, a.file_id"
        " FROM row_account AS a JOIN export_file AS e USING (file_id)"
    )
    listed: dict[str, list[Any]] = {}
    for kind, table in (("row", "quarantined_row"), ("value", "refused_value")):
        for file_id, *about in line.ask(
            f"SELECT file_id, line, part_of_line, rule, column_name FROM {table}"
        ):
            listed.setdefault(file_id, []).append((kind, *about))
    return {
        row[0]: (row[1], row[2] if row[1] in {"refused", "copy"} else "", row[3:9],
                 sorted(listed.get(row[9], []), key=str))
        for row in rows
    }  # fmt: skip


def checked(line: Line, files: list[Path], capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    main(["check", *map(str, files), "--exports", str(line.exports), "--json", "--as-of", AS_OF])
    out = {}
    for found in json.loads(capsys.readouterr().out)["files"]:
        faults = [
            ("row" if f["outcome"] != "value" else "value", f["line"], f["part_of_line"],
             f["rule"], f["column"])
            for f in found["faults"]
        ]  # fmt: skip
        counts = tuple(found[name] for name in COUNTS)
        out[found["file"]] = (found["status"], found["refusal"], counts, sorted(faults, key=str))
    return out


def verdict(judged: Judged) -> tuple[Any, ...]:
    """Return the same of one judged file, as `check` has it before it advises."""
    faults = [
        ("row" if f.outcome != "value" else "value", f.line, f.part, f.rule, f.column)
        for f in faults_of(judged, own_table(judged.item))
    ]
    status = judged.version.status
    message = judged.version.message if status in {"refused", "copy"} else ""
    counts = tuple(judged.account[name] for name in COUNTS)
    return (status, message, counts, sorted(faults, key=str))


def of_moment(told: tuple[Any, ...]) -> tuple[Any, ...]:
    """Name the moment's column as the export does where a set rule speaks of the row's day."""
    *rest, faults = told
    named = [
        (kind, at, part, rule, "started_at" if column == "local_date" else column)
        for kind, at, part, rule, column in faults
    ]
    return (*rest, sorted(named, key=str))


def exports_of(line: Line) -> list[Path]:
    own = [p for p in line.exports.glob("site-*/*") if p.suffix != ".toml" and p.is_file()]
    return sorted(own)


def write_faults(line: Line) -> None:
    """Write a file of every fault that the tests of faults make, and of every set rule."""
    site_a, site_b = line.exports / "site-a", line.exports / "site-b"
    line.write("site-a/sessions_2026-01.csv", sessions(20))
    line.write("site-b/sessions_2026-01.csv", sessions(20))
    hostile(site_a)
    (site_a / "Drying list 2025-03.csv").write_text(front_desk.with_mistakes())
    (site_a / "mapping.toml").write_text(front_desk.MAPPING)
    bad = fresh(4, 4)
    bad[0]["condition_before"] = "kaputt"
    with zipfile.ZipFile(site_b / "march.zip", "w") as archive:
        archive.writestr("sessions_2026-03.csv", text(fresh(5, 3)))
        archive.writestr("sessions_2026-04.tsv", text(bad, "\t"))
    sheet = table_of_rows(fresh(6, 5))
    for at, value in enumerate(("=1/0", "#DIV/0!"), start=1):
        sheet[at][sheet[0].index("moisture_ul")] = value
    sheet[3][sheet[0].index("device_id")] = 1234567890123456
    (site_b / "sessions_2026-05.xlsx").write_bytes(workbook(sheet))
    line.write("site-b/sessions_2026-06.csv", fresh(40, 6, chamber_temp_max_c="104.9"))
    odd = fresh(12, 2)
    odd[0] |= {"dryer_id": "D9"}
    odd[1] |= {"started_at": "2027-01-05T09:00"}
    odd[2] |= {"started_at": "2019-01-05T09:00"}
    odd[3] |= {"model_code": "M1"}
    odd[4] = dict(odd[5])
    odd[6] |= {"session_id": odd[7]["session_id"], "moisture_ul": "9.0"}
    odd[8] = odd[9] | {"condition_after": "weak"}
    odd[10] |= {"started_at": "03/04/2026 09:00"}
    odd[11] |= {"site_id": "site-a"}
    line.write("site-b/sessions_2026-02.csv", odd)
    shutil.copy(site_b / "sessions_2026-02.csv", site_b / "Copy of sessions_2026-02.csv")
    shutil.copy(site_b / "sessions_2026-02.csv", site_b / "sessions_2026-02 (1).csv")
    line.write("site-b/chamber_runs_2026.csv", [
        {"started_at": row["started_at"][:10] + "T09:00", "match_window_minutes": "30",
         "moisture_ul": "4.5"}
        for row in sessions(5)
    ])  # fmt: skip
    line.write("site-b/dose_checks_2026.csv", [
        {"dryer_id": d, "checked_at": "2026-03-01", "dose_ul": dose, "reading_ul": "10"}
        for d, dose in (("D1", "10"), ("D7", "10"), ("D1", "ten"))
    ])  # fmt: skip
    line.write("site-b/service_events_2026.csv", [
        {"device_id": "A1", "occurred_on": day, "event": event}
        for day, event in (("2026-02-01", "lost"), ("2027-02-01", "lost"), ("2026-02-01", "gone"))
    ])  # fmt: skip


def test_check_and_refresh_agree_on_every_fault_file(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    write_faults(line)
    files = exports_of(line)
    said = refreshed(line, capsys)
    rules = {fault[3] for verdict in said.values() for fault in verdict[3]}
    assert len(rules) > 15
    statuses = {verdict[0] for verdict in said.values()}
    assert {"loaded", "loaded_with_quarantine", "refused", "copy"} <= statuses
    together = checked(line, files, capsys)
    assert set(together) == {name for name in said if not name.startswith("reference/")}
    for name, verdict in together.items():
        assert verdict == of_moment(said[name]), name
    # One file alone is judged beside the others that lie there.
    for name in ("sessions_2026-02.csv", "Copy of sessions_2026-02.csv", "march.zip"):
        for place, verdict in checked(line, [line.exports / "site-b" / name], capsys).items():
            assert verdict == of_moment(said[place]), place


def test_the_comparison_would_see_a_difference(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    file = line.write("site-b/sessions_2026-01.csv", sessions(5))
    said = refreshed(line, capsys)
    line.write("site-b/sessions_2026-01.csv", sessions(5, condition_after="kaputt"))
    [(name, verdict)] = checked(line, [file], capsys).items()
    assert verdict != of_moment(said[name])


def test_check_and_refresh_agree_on_generated_files(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files of random form with random mappings, 50 to a site; many are refused."""
    names = [f"site-{n}" for n in range(SITES)]
    line.write(
        "reference/sites.csv", [SITE | {"site_id": n, "time_zone": "Europe/Berlin"} for n in names]
    )
    line.write("reference/dryers.csv", [{"site_id": n, "dryer_id": "D1"} for n in names])
    for at, name in enumerate(names):
        folder = line.exports / name
        folder.mkdir()
        sections = []
        for number in range(FILES):
            made = make(SEED, at * FILES + number)
            section = f"f{number}"
            (folder / f"{section}.csv").write_bytes(made.data)
            own = re.sub(r"^\[sessions\b", f"[{section}", made.mapping, flags=re.MULTILINE)
            head = f'[{section}]\ntable = "sessions"\nfiles = ["{section}.csv"]\n'
            own = re.sub(rf"^\[{section}\]\n", "", own, count=1, flags=re.MULTILINE)
            sections.append(head + own)
        (folder / "mapping.toml").write_text("\n".join(sections), "utf-8")
    said = refreshed(line, capsys)
    day = date.fromisoformat(AS_OF)
    with (
        asked(exports_of(line), line.exports, None, None, day) as wanted,
        trial(wanted.files, wanted.context, as_of=day) as judged,
    ):
        found = {one.version.place: verdict(one) for one in judged.files}
    assert len(found) == SITES * FILES
    for name, own in found.items():
        assert own == of_moment(said[name]), name
    by_status = [own[0] for own in found.values()]
    assert min(by_status.count(s) for s in ("refused", "loaded_with_quarantine")) > 2 * SITES
