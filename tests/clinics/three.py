"""Three clinics' own exports, each hard in its own way; invented, as are all names in them.

A: German CSV, two aids a row. B: a workbook with a merged banner, sides in two header rows and
day numbers without a format. C: a chamber's log whose clock is seven minutes fast, and visits
without session ids.
"""

import datetime as dt
import io
import random
from pathlib import Path

import openpyxl

STATES = ("dead", "weak", "normal")
GERMAN = {"dead": "defekt", "weak": "schwach", "normal": "in Ordnung", "ric": "Ex-Hörer",
          "bte": "HdO"}  # fmt: skip
FAST_MINUTES = 7.0


def starts(count: int, seed: int) -> list[dt.datetime]:
    """Return the true starts of a spring's runs, some a day, an hour and more apart."""
    rng = random.Random(seed)
    out = []
    for day in range(count // 4 + 1):
        for slot in range(4):
            at = dt.datetime(2026, 3, 2, 8) + dt.timedelta(
                days=day, hours=2 * slot, minutes=rng.randint(0, 40)
            )
            out.append(at)
    return out[:count]


def german(count: int = 60) -> bytes:
    """Return clinic A's file: semicolons, decimal commas, cp1252, a left and a right aid a row."""
    head = (
        "Vorgang;Kundennummer;Datum;Uhrzeit;Gerät links;Bauform links;Zustand vorher links;"
        "Zustand nachher links;Gerät rechts;Bauform rechts;Zustand vorher rechts;"
        "Zustand nachher rechts;Dauer (Min);Wasser [µl];Temperatur max (°C);Bemerkung"
    )
    lines = ["Trocknungsliste Filiale;;;;;;;;;;;;;;;", head]
    for i, at in enumerate(starts(count, 1)):
        sides = []
        for side in (0, 1):
            if i % 5 == 2 + side:
                sides += ["", "", "", ""]
                continue
            before = STATES[(i + side) % 3]
            after = "normal" if (i + side) % 4 else before
            sides += [f"SN{2 * i + side:05}", GERMAN[("ric", "bte")[side]], GERMAN[before],
                      GERMAN[after]]  # fmt: skip
        water = "n.n." if i % 9 == 4 else f"{1 + i % 7},{i % 10}"
        lines.append(";".join([
            f"V{i:04}", f"K{i % 40:03}", at.strftime("%d.%m.%Y"), at.strftime("%H:%M"), *sides,
            str(25 + i % 15), water, f"{37 + i % 5},5", "bitte rückrufen" if i % 7 == 0 else "",
        ]))  # fmt: skip
    return ("\r\n".join(lines) + "\r\n").encode("cp1252")


def workbook(count: int = 40) -> bytes:
    """Return clinic B's workbook: title, merged banner over the sides, day numbers unformatted."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Export March"
    book.create_sheet("Notes").append(["for the staff room"])
    sheet.append(["Drying list of the clinic"])
    sheet.merge_cells("A1:L1")
    sheet.append(["Visit", "", "", "", "Left aid", "", "", "", "Right aid", "", "", ""])
    for merged in ("A2:D2", "E2:H2", "I2:L2"):
        sheet.merge_cells(merged)
    side = ["Serial no", "Type", "Before", "After"]
    sheet.append(["Date", "Time", "Client", "Water reading", *side, *side])
    for i, at in enumerate(starts(count, 2)):
        serial = (at.date() - dt.date(1899, 12, 30)).days
        row = [serial, at.strftime("%I:%M %p"), f"C{i % 30}", 0.002 + 0.0005 * (i % 9)]
        for ear in (0, 1):
            before = STATES[(i + ear) % 3]
            row += [f"X{i}{'LR'[ear]}", ("RIC", "BTE")[ear], before.title(), "Normal"]
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def log(count: int = 80, fast_minutes: float = FAST_MINUTES, gained_a_day: float = 0.0) -> str:
    """Return clinic C's log: no chamber, no session, a clock that runs fast and may gain more."""
    lines = ["Start,Programme,Duration min,Water uL,Max temp C,End"]
    for i, at in enumerate(starts(count, 3)):
        gained = gained_a_day * (at - dt.datetime(2026, 3, 2)) / dt.timedelta(days=1)
        shown = at + dt.timedelta(minutes=fast_minutes + gained)
        reading = "LOW" if i % 11 == 3 else f"{1.5 + i % 6:.1f}"
        lines.append(f"{shown:%Y-%m-%d %H:%M:%S},gentle,{30 + i % 9},{reading},{38 + i % 4},dry")
    return "\n".join(lines) + "\n"


def visits(count: int = 80) -> str:
    """Return clinic C's records: what was seen, and when by the clock on the wall."""
    lines = ["Date,Time,Client,Serial no,Side,Type,Before,After"]
    rng = random.Random(4)
    for i, at in enumerate(starts(count, 3)):
        if i % 10 == 9:
            continue  # a run without a record
        seen = at + dt.timedelta(minutes=rng.choice((-1, 0, 0, 1)))
        lines.append(
            f"{seen:%Y-%m-%d},{seen:%H:%M},C{i},Z{i},{'left' if i % 2 else 'right'},"
            f"{('ric', 'bte')[i % 2]},{STATES[i % 3]},normal"
        )
    return "\n".join(lines) + "\n"


def write_all(exports: Path) -> None:
    """Write the three clinics' folders, without any mapping."""
    for name in ("clinic-a", "clinic-b", "clinic-c"):
        (exports / name).mkdir(parents=True, exist_ok=True)
    (exports / "clinic-a" / "Trocknung_2026-03.csv").write_bytes(german())
    (exports / "clinic-b" / "Monthly list 2026-03.xlsx").write_bytes(workbook())
    (exports / "clinic-c" / "log_2026.csv").write_text(log(), "utf-8")
    (exports / "clinic-c" / "visits_2026.csv").write_text(visits(), "utf-8")
