"""A small exports folder with known faults: `python -m sample_data.faults`.

Each row is declared with what must become of it, decided from the rules of the contract and
not by running the pipeline; the expected account is the sum of these decisions.
"""

import argparse
import csv
import io
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent / "faults"
AS_OF = "2026-07-01"

ACCEPTED, QUARANTINED, DUPLICATE, SKIPPED = "accepted", "quarantined", "duplicate", "skipped"

GOOD = {
    "site_id": "site-01", "session_id": "", "device_id": "", "patient_id": "",
    "patient_name": "Invented Person", "treatment": "dried", "dryer_id": "D01-1",
    "started_at": "", "ear": "left", "device_style": "ric", "power_source": "zinc_air",
    "device_age_months": "30", "visit_reason": "clean_and_check", "symptoms": "",
    "exposure": "none_known", "hours_since_exposure": "", "condition_before": "weak",
    "condition_after_cleaning": "weak", "condition_after": "normal", "parts_changed": "none",
    "cycle_minutes": "25", "ended_by": "dry", "moisture_ul": "2.5",
    "is_moisture_below_detection": "", "chamber_temp_max_c": "39",
    "hfa_gain_before_db": "30.5", "hfa_gain_after_db": "40.5", "thd_after_pct": "1.2",
    "notes": "", "disposition": "returned_to_wearer",
}  # fmt: skip
COLUMNS = list(GOOD)


@dataclass(frozen=True)
class Line:
    """One record of the file and its fate; `column` names where a quarantining fault lies."""

    changed: dict[str, str] = field(default_factory=dict)
    fate: str = ACCEPTED
    column: str | None = None
    refused: tuple[str, ...] = ()
    why: str = "a good row"
    raw: str | None = None
    again: bool = False


def bad(column: str, found: str, why: str) -> Line:
    """Return a row with a bad value in a required column, or one that its rules hold back."""
    return Line({column: found}, QUARANTINED, column, why=why)


def refused(why: str, **changed: str) -> Line:
    """Return a row that stays, with each changed cell refused alone."""
    return Line(changed, refused=tuple(changed), why=why)


LINES: tuple[Line, ...] = (
    Line(),
    bad("condition_before", "broken", "not a word of the list, in a required column"),
    bad("condition_before", "", "a required value is missing"),
    bad("device_style", "spectacle", "not a word of the list, in a required column"),
    bad("device_style", "", "a required value is missing"),
    bad("started_at", "2026-02-30T10:00", "no such day"),
    bad("started_at", "03/04/2026 10:00", "day and month cannot be told apart"),
    bad("started_at", "", "a required value is missing"),
    bad("started_at", "2026-03-29T01:30", "the clocks skipped this time"),
    bad("started_at", "2026-09-14T10:00", "after the day the run is made for"),
    bad("site_id", "site-02", "does not agree with the folder"),
    bad("dryer_id", "D99-9", "a chamber that the reference tables do not know"),
    Line(raw="", fate=SKIPPED, why="a blank line"),
    refused("below zero", moisture_ul="-0.4"),
    refused("text in a number column", moisture_ul="<0.5"),
    refused("formula text in a number column", moisture_ul="=1+1"),
    refused("longer than a day", cycle_minutes="1441"),
    refused("not a finite number", device_age_months="NaN"),
    refused("below zero", device_age_months="-3"),
    refused("not a finite number", hfa_gain_before_db="inf"),
    refused("not a finite number", hfa_gain_after_db="1e309"),
    refused("over 100 %", thd_after_pct="150"),
    refused("text in a number column", chamber_temp_max_c="hot"),
    refused("not a word of the list", ear="both"),
    refused("not a word of the list", power_source="solar"),
    refused("not a word of the list", condition_after="better"),
    refused("one word of several is not of the list", parts_changed="wax_guard;magic"),
    refused("two bad values in one row", ended_by="bored", disposition="binned"),
    refused("hours without immersion or splash", hours_since_exposure="12"),
    Line(
        {"condition_after": "dead", "disposition": "sent_for_repair"},
        refused=("hfa_gain_after_db",),
        why="a dead aid has no gain",
    ),
    Line(
        {
            "treatment": "cleaned_only",
            "moisture_ul": "",
            "cycle_minutes": "",
            "ended_by": "",
            "chamber_temp_max_c": "",
        },
        refused=("dryer_id",),
        why="a visit that was only cleaned names no chamber",
    ),
    Line(raw="short", fate=QUARANTINED, why="too few fields"),
    Line(raw="long", fate=QUARANTINED, why="too many fields"),
    Line(again=True, fate=DUPLICATE, why="the first row once more"),
    Line(
        {"condition_after": "weak"},
        again=True,
        fate=DUPLICATE,
        why="the first row's key with another outcome",
    ),
    Line({"notes": 'He said "damp",\nthen left'}, why="a quoted newline in a dropped column"),
    Line({"notes": "=HYPERLINK(1)"}, why="formula text in a dropped column"),
    Line({"device_id": "\u202eA9001\u202c"}, why="bidirectional marks around an identifier"),
    Line(raw="", fate=SKIPPED, why="a blank line"),
    Line(raw="header", fate=SKIPPED, why="the header once more"),
    Line({"moisture_ul": "", "is_moisture_below_detection": "true"}, why="below detection"),
    Line(
        {"session_id": "S901", "started_at": "2026-03-03T09:15", "ear": "right"},
        why="a good row whose load lost its other aid to a bad condition",
    ),
    Line(why="a good row, and no newline after it"),
)


def write_faults(folder: Path) -> dict[str, Any]:
    """Write `exports/` and `expected_account.json` under `folder`; return the account."""
    text, account = _sessions()
    site = folder / "exports" / "site-01"
    reference = folder / "exports" / "reference"
    for made in (site, reference):
        made.mkdir(parents=True, exist_ok=True)
    (site / "sessions_2026-03.csv").write_text(text, encoding="utf-8", newline="")
    (reference / "sites.csv").write_text(
        "site_id,site_name,latitude,longitude,elevation_m,time_zone,opened_on\n"
        "site-01,Alder Quay,51.3,-1.9,62,Europe/London,2009-03-01\n",
        encoding="utf-8",
        newline="",
    )
    (reference / "dryers.csv").write_text(
        "site_id,dryer_id,installed_on,detection_limit_ul\nsite-01,D01-1,2021-02-15,0.3\n",
        encoding="utf-8",
        newline="",
    )
    shown = json.dumps(account, indent=2, ensure_ascii=False) + "\n"
    (folder / "expected_account.json").write_text(shown, encoding="utf-8", newline="")
    return account


def _sessions() -> tuple[str, dict[str, Any]]:
    header = ",".join(COLUMNS)
    records, at = [header], 2
    fates: dict[str, list[dict[str, Any]]] = {
        ACCEPTED: [], QUARANTINED: [], DUPLICATE: [], SKIPPED: [],
    }  # fmt: skip
    values = []
    for number, line in enumerate(LINES):
        text = _record(number, line, header)
        entry: dict[str, Any] = {"line": at, "why": line.why}
        if line.fate == QUARANTINED:
            entry["column"] = line.column
        fates[line.fate].append(entry)
        values += [{"line": at, "column": name, "why": line.why} for name in line.refused]
        records.append(text)
        at += 1 + text.count("\n")
    read = len(LINES) - len(fates[SKIPPED])
    return "\n".join(records), {
        "file": "site-01/sessions_2026-03.csv",
        "as_of": AS_OF,
        "rows_read": read,
        "accepted": len(fates[ACCEPTED]),
        "quarantined": len(fates[QUARANTINED]),
        "duplicate": len(fates[DUPLICATE]),
        "skipped_lines": len(fates[SKIPPED]),
        "values_refused": len(values),
        "dropped_columns": ["patient_name", "notes"],
        "has_final_newline": False,
        "quarantined_rows": fates[QUARANTINED],
        "duplicate_rows": fates[DUPLICATE],
        "refused_values": values,
        "skipped": fates[SKIPPED],
        "accepted_lines": [entry["line"] for entry in fates[ACCEPTED]],
    }


def _record(number: int, line: Line, header: str) -> str:
    if line.raw == "header":
        return header
    if line.raw == "":
        return ""
    place = 0 if line.again else number
    row = GOOD | {
        "session_id": f"S{900 + place}",
        "device_id": f"A{7000 + place}",
        "patient_id": f"W{3000 + place}",
        "started_at": f"2026-03-{2 + place % 20:02d}T{9 + place // 20:02d}:15",
    }
    row |= line.changed
    cells = list(row.values())
    if line.raw == "short":
        cells = cells[:-4]
    if line.raw == "long":
        cells = [*cells, "more", "still more"]
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue()


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the folder with faults, or with `--into` another one."""
    parser = argparse.ArgumentParser(prog="python -m sample_data.faults", description=__doc__)
    parser.add_argument("--into", type=Path, default=HERE)
    write_faults(parser.parse_args(arguments).into)
    return 0


if __name__ == "__main__":
    sys.exit(main())
