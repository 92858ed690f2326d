"""Planted identifiers, in cells, headers, names of files and sheets, are found nowhere after a run.

The run goes through Prefect; parts and tables are searched unpacked, every other file by its bytes.
"""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import polars as pl
import pytest
from openpyxl import Workbook

from tests.flows.line import AS_FLOW, ROW, Line, sessions
from tests.intake.sheets import workbook
from tests.test_architecture import ROOT

# Invented, and unlike anything that a table of this program holds.
SECRETS = (
    "Quillon", "Vexham", "1931-02-03", "03.02.1931", "07700 900123", "quillon@example.org",
    "SESSIONQ77", "SERIALQ77", "WEARERQ77", "ASSESSORQ77",
)  # fmt: skip
IDS = {
    "session_id": "SESSIONQ77", "device_id": "SERIALQ77", "patient_id": "WEARERQ77",
    "assessor_id": "ASSESSORQ77",
}  # fmt: skip


def planted(line: Line) -> None:
    """Write files with identifiers wherever a file can hold one."""
    site = line.exports / "site-a"
    line.write("site-a/sessions_2026-01.csv", sessions(12))
    allowed = ROW | IDS | {
        "cycle_programme": "Quillon Vexham", "test_box_id": "03.02.1931",
        "model_code": "Vexham Quillon",
    }  # fmt: skip
    fallen = allowed | {
        "started_at": "2026-03-11T09:00", "device_style": "Quillon Vexham",
        "condition_before": "quillon@example.org", "dryer_id": "Quillon Vexham",
        "moisture_ul": "07700 900123", "fitted_on": "1931-02-03", "ear": "WEARERQ77",
    }  # fmt: skip
    columns = {
        "Quillon Vexham": "x", "patient_name": "Quillon Vexham", "birth": "1931-02-03",
        "quillon_vexham": "y", "WEARERQ77": "z", "notes": "call 07700 900123",
    }  # fmt: skip
    line.write("site-a/sessions_Quillon_Vexham.csv", [allowed | columns, fallen | columns])
    line.write("site-a/sessions_2026-04.csv", [{"Quillon Vexham": "1", "WEARERQ77": "2"}])
    (site / "Quillon Vexham 03.02.1931.doc").write_text("Quillon Vexham")
    names = [*ROW, "patient_name"]
    cells = [*(ROW | IDS | {"started_at": "2026-05-02"}).values(), "Quillon Vexham"]

    def titled(book: Workbook) -> None:
        book.active.title = "Quillon Vexham 1931"

    def twice(book: Workbook) -> None:
        titled(book)
        book.create_sheet("WEARERQ77")

    rows = [[*names, "assessor_id"], [*cells[: len(ROW)], "Quillon Vexham", "ASSESSORQ77"]]
    (site / "sessions_Quillon.xlsx").write_bytes(workbook(rows, titled))
    (site / "sessions_2026-06.xlsx").write_bytes(workbook(rows, twice))
    with zipfile.ZipFile(site / "Quillon Vexham.zip", "w") as archive:
        for name in ("Quillon Vexham/sessions.csv", "sessions_WEARERQ77.csv"):
            archive.writestr(name, "patient_id,Quillon Vexham\nWEARERQ77,SERIALQ77\n")


def hits(place: str, data: bytes) -> list[tuple[str, str]]:
    low = data.lower()
    forms = [(word, word.lower().encode()) for word in SECRETS]
    wide = [(word, word.lower().encode("utf-16-le")) for word in SECRETS]
    return [(place, word) for word, form in [*forms, *wide] if form in low]


def test_no_planted_identifier_is_left_anywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    line = Line(tmp_path)
    planted(line)
    found = []
    file = line.exports / "site-a" / "sessions_Quillon_Vexham.csv"
    todo = tmp_path / "todo.csv"
    store = ["--store", str(line.store)]
    for arguments, code in (
        (["refresh", str(line.exports), *store, "--dashboards", str(line.dashboards),
          "--as-of", "2026-07-01"], 3),
        (["status", *store, "--todo", str(todo)], 3),
        (["check", str(file), "--exports", str(line.exports)], 3),
    ):  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", AS_FLOW, *arguments],
            capture_output=True, timeout=600, check=False, cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT), "HOME": str(tmp_path / "home")},
        )  # fmt: skip
        assert done.returncode == code, done.stderr.decode()
        found += hits(f"console of {arguments[0]}", done.stdout + done.stderr)
    files = [p for p in tmp_path.rglob("*") if p.is_file() and line.exports not in p.parents]
    assert any("prefect" in p.parts for p in files)
    for path in files:
        found += hits(str(path.relative_to(tmp_path)), path.read_bytes())
        if path.suffix == ".parquet":
            found += hits(path.name, pl.read_parquet(path).write_json().encode())
    for (table,) in line.ask("SELECT table_name FROM duckdb_tables()"):
        found += hits(table, str(line.ask(f"SELECT * FROM {table}")).encode())
    assert found == []
    # What was planted was read: the pseudonyms are there, the values are listed by their shapes.
    assert line.ask("SELECT count(*) FROM session_aid") >= [(13,)]
    assert line.ask("SELECT count(*) >= 2 FROM refused_value") == [(True,)]
    [(quarantined,)] = line.ask("SELECT count(DISTINCT line) FROM quarantined_row")
    assert quarantined >= 1
