"""A front desk's month with twelve mistakes, each of another kind; invented."""

import csv
import io

HEADER = (
    "Session", "Wearer", "Aid", "Side", "Style", "Started", "Unit", "State before", "State after",
    "Minutes", "Water", "Temp", "Programme",
)  # fmt: skip
MAPPING = """[sessions]
files = ["Drying list *.csv"]
[sessions.columns]
session_id = "Session"
patient_id = "Wearer"
device_id = "Aid"
ear = "Side"
device_style = "Style"
started_at = "Started"
dryer_id = "Unit"
condition_before = "State before"
condition_after = "State after"
cycle_minutes = "Minutes"
moisture_ul = "Water"
chamber_temp_max_c = "Temp"
cycle_programme = "Programme"
"""
NAME = "Drying list 2026-03.csv"
# Line of the file: column, what the front desk wrote, what it hides, the fault's kind.
MISTAKES = {
    4: ("State before", "weakk", "a slip in a word"),
    6: ("Started", "2026-02-31T09:00", "a day that does not exist"),
    8: ("Temp", "400", "an impossible temperature"),
    10: ("State after", "Quillon Vexham", "a name where a word belongs"),
    12: ("Water", "4,25", "a decimal comma"),
    14: ("Started", "13/03/2026 09:30", "a day in another order"),
    16: ("Unit", "Dl", "a slip in the chamber's name"),
    18: ("Style", "", "a cell left empty"),
    20: ("Started", "2027-03-20T09:00", "a day that has not come"),
    22: ("Minutes", "45 min", "a number with its unit"),
    24: ("Programme", "call 07700 900123", "a phone number in a code"),
    26: (None, None, "a row copied"),
}


def rows() -> list[list[str]]:
    """Return a sound month of 30 rows."""
    states = ("dead", "weak", "normal")
    return [
        [
            f"S{i}", f"W{i}", f"A{i}", ("left", "right")[i % 2], ("ric", "bte")[i % 2],
            f"2026-03-{1 + i % 28:02d}T{8 + i % 9:02d}:15", "D1", states[i % 3],
            ("normal", "weak", "normal")[i % 3], str(30 + i % 5), f"{2 + i % 7}.5",
            str(38 + i % 4), "gentle-long",
        ]
        for i in range(30)
    ]  # fmt: skip


def with_mistakes() -> str:
    """Return the month as CSV with its twelve mistakes; the header is line 1."""
    made = rows()
    for line, (column, value, _) in MISTAKES.items():
        if column is None:
            made[line - 2] = list(made[line - 3])
        else:
            made[line - 2][HEADER.index(column)] = value or ""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(made)
    return out.getvalue()
