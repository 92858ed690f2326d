"""Small export files of every form, each with what its mapping says that its cells mean.

The meaning is worked out here, from the value that was written, and by none of the product's code.
"""

import csv
import datetime as dt
import io
import random
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from pipeline.intake.corrections import Correction
from tests.intake.made_meaning import (
    BAD,
    BAD_NUMBERS,
    FAULTS,
    HIDDEN,
    OWN_WORDS,
    REQUIRED,
    SIDED,
    SITE_ZONE,
    TEXTS,
    UNITS,
    WORDS,
    WRITTEN,
    instant,
)


@dataclass
class Row:
    """One row expected: the meaning of its cells, or that its record cannot be cut."""

    line: int
    part: int
    cells: dict[str, Any]
    is_broken: bool = False

    @property
    def is_sound(self) -> bool:
        needed = (self.cells.get(name) for name in REQUIRED)
        return not self.is_broken and all(v is not None and v is not BAD for v in needed)


@dataclass
class Made:
    """One file with its mapping and what must come of it."""

    data: bytes
    mapping: str
    rows: list[Row] = field(default_factory=list)
    skipped: int = 0
    fault: str = ""
    corrections: tuple[Correction, ...] = ()


class Writer:
    """Makes one file of random form."""

    def __init__(self, rng: random.Random) -> None:
        self.rng, r = rng, rng
        self.fault = r.choice(FAULTS) if r.random() < 0.08 else ""
        self.delimiter = r.choice(",;\t|")
        self.encoding = r.choice(("utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16", "latin-1"))
        self.comma = r.random() < 0.4 and self.fault != "comma"
        self.mark = r.choice((None, None, "'", " ", "." if self.comma else ","))
        self.order = r.choice((None, "dmy", "mdy", "ymd"))
        if self.fault in {"order", "against"}:
            self.order = None if self.fault == "order" else "dmy"
        if self.fault in {"comma"}:
            self.mark = None
        self.century = 2000 if self.order in {"dmy", "mdy"} and r.random() < 0.4 else None
        self.zone = r.choice((None, None, "America/New_York", "Etc/GMT-1"))
        self.repeated = r.choice((None, "first", "second"))
        self.forward = r.random() < 0.3
        self.offset = r.choice((0, 0, -7.5, 60))
        self.sides = r.random() < 0.25
        self.split = r.random() < 0.3
        self.low = ("LOW", "<0,5", "n. n.")[: r.randint(0, 3)]
        self.none = ("-", "k.A.")[: r.randint(0, 2)]
        self.own = r.random() < 0.6
        self.separator = r.choice((None, "/", "+"))
        numbers = [
            c for c in UNITS if r.random() < 0.6 or (c == "moisture_ul" and self.fault == "comma")
        ]
        self.units = {c: "" if self.fault == "comma" else r.choice(list(UNITS[c])) for c in numbers}
        more = ("device_id", "ear", "condition_after", "symptoms", "cycle_programme")
        self.columns = [*REQUIRED, *numbers, *(c for c in more if r.random() < 0.7)]
        if self.sides:
            self.columns = [c for c in self.columns if c != "ear"]
            self.columns += [] if "device_id" in self.columns else ["device_id"]
        self.names: dict[str, list[str]] = {}

    def plan(self) -> list[tuple[str, str, int]]:
        """Return the file's columns: own name, contract column ('' is none), side or place."""
        out: list[tuple[str, str, int]] = [("Notes", "", 0)]
        for at, column in enumerate(self.columns):
            own = column if self.rng.random() < 0.4 else f"Spalte {at} é"
            if column == "started_at" and self.split:
                out += [(f"Tag {at}", column, 1), (f"Zeit {at}", column, 2)]
            elif self.sides and column in SIDED:
                out += [(f"L {at}", column, 1), (f"R {at}", column, 2)]
            else:
                out.append((own, column, 0))
        self.rng.shuffle(out)
        return out

    def mapping(self, plan: list[tuple[str, str, int]]) -> str:
        lines = ["[sessions]"]
        if self.delimiter != "," or self.rng.random() < 0.3:
            lines.append(f"delimiter = '{ {chr(9): 'tab'}.get(self.delimiter, self.delimiter) }'")
        if self.encoding not in {"utf-8", "utf-8-sig"} and self.fault != "encoding":
            lines.append(f"encoding = '{self.encoding}'")
        said = {
            "decimal_comma": "true" if self.comma else None, "date_order": self.order,
            "thousands_mark": self.mark, "zone": self.zone, "repeated_hour": self.repeated,
            "skipped_hour": "forward" if self.forward else None,
        }  # fmt: skip
        lines += [
            f"{k} = {v if v == 'true' else chr(34) + v + chr(34)}" for k, v in said.items() if v
        ]
        lines += [f"century = {self.century}"] if self.century else []
        lines += [f"clock_offset_minutes = {self.offset}"] if self.offset else []
        lines += [f"below_detection = {list(self.low)}", f"empty_words = {list(self.none)}"]
        lines += ["barometer_kpa = 100.0", f"skip_lines = {self.banner}"]
        groups: dict[str, list[str]] = {"columns": [], "left": [], "right": []}
        for own, column, side in plan:
            if not column or own == column:
                continue
            if column == "started_at" and side:
                if side == 1:
                    pair = [o for o, c, _ in sorted(plan, key=lambda p: p[2]) if c == column]
                    groups["columns"].append(f"started_at = {pair}")
            else:
                groups[("columns", "left", "right")[side]].append(f"{column} = '{own}'")
        units = [f"{c} = '{u}'" for c, u in self.units.items() if u]
        for name, entries in [*groups.items(), ("units", units)]:
            lines += [f"[sessions.{name}]", *entries] if entries else []
        if self.separator and "symptoms" in self.columns:
            lines += ["[sessions.separators]", f"symptoms = '{self.separator}'"]
        if self.own:
            for column in [c for c in self.columns if c in WORDS]:
                lines.append(f"[sessions.values.{column}]")
                lines += [f"'{OWN_WORDS[w]}' = '{w}'" for w in WORDS[column]]
        return "\n".join(lines) + "\n"

    def word(self, column: str) -> tuple[str, Any]:
        if self.rng.random() < 0.04:
            return "no such word", BAD
        meant = self.rng.choice(WORDS[column])
        text = OWN_WORDS[meant] if self.own and self.rng.random() < 0.8 else meant
        return self.rng.choice((text, text.upper(), f" {text} ")), meant

    def number(self, column: str) -> tuple[str, Any]:
        r, unit = self.rng, self.units[column]
        if r.random() < 0.05:
            return r.choice(BAD_NUMBERS), BAD
        if column == "moisture_ul" and self.low and r.random() < 0.15:
            return r.choice(self.low).lower(), "below"
        low, high, over = WRITTEN[column, unit]
        value = Fraction(r.randint(low, high), over)
        places = len(str(over)) - 1
        if column == "moisture_ul" and not unit and self.mark and r.random() < 0.05:
            value = Fraction(r.randint(1000, 1999)) + value % 1
        text = f"{float(value):,.{places}f}" if self.mark else f"{float(value):.{places}f}"
        swap = {",": self.mark or "", ".": "," if self.comma or self.fault == "comma" else "."}
        return "".join(swap.get(sign, sign) for sign in text), UNITS[column][unit](value)

    def moment(self) -> tuple[str, str, Any]:
        """Return the day and the time as written, and the moment meant with its precision."""
        r = self.rng
        day = dt.date(2026, 1, 1) + dt.timedelta(days=r.randint(0, 300))
        time: dt.time | None = dt.time(r.randint(0, 23), r.randint(0, 59), r.choice((0, 0, 30)))
        if r.random() < 0.08:
            day, time = r.choice((dt.date(2026, 3, 29), dt.date(2026, 10, 25))), dt.time(2, 30)
        if r.random() < 0.1:
            time = None
        if r.random() < 0.03:
            return "31.02.2026" if self.order == "dmy" else "2026-02-31", "09:00", BAD
        y, m, d = f"{day.year}", f"{day.month:02}", f"{day.day:02}"
        order = "mdy" if self.fault == "order" else self.order
        if order in {"dmy", "mdy"} and self.fault != "against" and r.random() < 0.9:
            if self.fault == "order" or r.random() < 0.3:
                m, d = str(int(m)), str(int(d))
            if self.century and r.random() < 0.6:
                y = y[2:]
            sign = r.choice("./-")
            text = sign.join((d, m, y) if order == "dmy" else (m, d, y))
        elif self.fault == "against":
            text = f"{day.month:02}/{13 + day.day % 10}/{y}"
        else:
            text = f"{y}{'/' if order == 'ymd' and r.random() < 0.5 else '-'}{m}-{d}"
            if "/" in text:
                text = f"{y}/{m}/{d}"
        is_iso = text[4:5] == "-" and len(text) == 10
        clock = ""
        if time is not None:
            clock = time.strftime("%H:%M:%S" if time.second else "%H:%M")
            if not is_iso and r.random() < 0.3:
                half = "PM" if time.hour >= 12 else "am"
                clock = f"{(time.hour + 11) % 12 + 1}{clock[2:]} {half}"
        zone = self.zone or SITE_ZONE
        local = dt.datetime.combine(day, time or dt.time(12))
        meant = instant(local, zone, self.repeated, self.forward)
        if meant is not BAD and time is not None:
            meant += dt.timedelta(minutes=self.offset)
        return text, clock, meant if meant is BAD else (meant, "instant" if time else "date")

    def cell(self, column: str) -> tuple[str, Any]:
        r = self.rng
        share = 0.03 if column in REQUIRED else 0.12
        if r.random() < share:
            return r.choice(("", "  ", *(w.upper() for w in self.none))), None
        if column in self.units:
            return self.number(column)
        if column == "symptoms":
            pairs = [self.word(column) for _ in range(r.randint(1, 2))]
            values = [v for _, v in pairs]
            return (self.separator or ";").join(
                t for t, _ in pairs
            ), BAD if BAD in values else values
        if column in WORDS:
            return self.word(column)
        if column == "device_id":
            text = f"A{r.randint(1, 9)}"
            return text, ("hashed", text)
        if r.random() < 0.1:
            return r.choice(("=1+1", "<b>x</b>", "Ann Example", "ann@example.org", "x" * 41)), BAD
        text = r.choice(("P1", "gentle-long", "2", "eco 3", "007"))
        return text, text

    def record(self, plan: list[tuple[str, str, int]]) -> tuple[list[str], list[dict[str, Any]]]:
        """Return the fields of one record and the meanings of its one or two rows."""
        day, clock, moment = self.moment()
        if self.rng.random() < 0.03:
            day, clock, moment = "", "", None
        fields, shared, sides = [], {}, ({}, {})
        absent = self.rng.choice((0, 0, 0, 1, 2, 3)) if self.sides else 0
        for _own, column, side in plan:
            if not column:
                odd = TEXTS + (HIDDEN if self.encoding.startswith("utf") else ())
                fields.append(self.rng.choice(odd if self.at_first != "Notes" else ("abc", "")))
            elif column == "started_at":
                shared[column] = moment
                fields.append((f"{day} {clock}".strip(), day, clock)[side])
            elif side:
                text, meant = ("", None) if absent in {side, 3} else self.cell(column)
                sides[side - 1][column] = meant
                fields.append(text)
            else:
                text, shared[column] = self.cell(column)
                fields.append(text)
        if not self.sides:
            return fields, [shared]
        return fields, [
            shared | own if any(v is not None for v in own.values()) else {} for own in sides
        ]

    def made(self) -> Made:
        r = self.rng
        self.banner = r.choice((0, 0, 0, 1, 3))
        plan = self.plan()
        self.at_first = plan[0][0]
        header = [own for own, _, _ in plan]
        out = io.StringIO()
        quoting = r.choice((csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL))
        end = r.choice(("\n", "\r\n"))

        def line(fields: list[str]) -> str:
            one = io.StringIO()
            csv.writer(one, delimiter=self.delimiter, quoting=quoting).writerow(fields)
            return one.getvalue().removesuffix("\r\n").replace("\n", end)

        made = Made(b"", self.mapping(plan), fault=self.fault)
        for at in range(self.banner):
            out.write(f"Export {at}{end}")
        shown = list(header)
        if self.fault == "no_column":
            shown[next(at for at, (_, c, _) in enumerate(plan) if c == "condition_before")] = "gone"
        if self.fault == "twice":
            shown.append(shown[0])
        out.write(line(shown) + end)
        number = self.banner + 2
        previous: str | None = None
        meant: list[dict[str, Any]] = []
        for _ in range(r.randint(5, 40)):
            if r.random() < 0.05:
                out.write(
                    r.choice(("", "# a comment", line([""] * len(header)), line(shown))) + end
                )
                made.skipped, number = made.skipped + 1, number + 1
            if previous is None or r.random() > 0.05:
                fields, meant = self.record(plan)
                previous = line(fields)
            text, broken = previous, r.random() < 0.04
            if broken:
                text = self.delimiter.join(["x"] * (len(header) + r.choice((-1, 1))))
                if r.random() < 0.3:
                    text = self.delimiter.join(['a "b" c', *["x"] * (len(header) - 1)])
            elif not text.strip(f' \t"{self.delimiter}\r\n'):
                made.skipped += 1
                out.write(text + end)
                number += 1 + text.count("\n")
                continue
            out.write(text + end)
            present = [(at, cells) for at, cells in enumerate(meant, 1) if cells]
            if broken or not present:
                made.rows.append(Row(number, 1, {}, is_broken=True))
            else:
                made.rows += [Row(number, at, dict(cells)) for at, cells in present]
            number += 1 + text.count("\n")
        self._correct(made)
        self._encode(made, out.getvalue(), end)
        return made

    def _correct(self, made: Made) -> None:
        """Write a reviewed fix of one row."""
        r = self.rng
        own = [row.cells.get("cycle_programme") for row in made.rows]
        once = [at for at, code in enumerate(own) if isinstance(code, str) and own.count(code) == 1]
        if once:  # a reviewed fix of the one row of its programme
            at = r.choice(once)
            match = (("cycle_programme", str(own[at])),)
            made.corrections = (
                Correction(2, "sessions", match, "condition_after", "weak", "slip", "director"),
            )
            made.rows[at].cells["condition_after"] = "weak"

    def _encode(self, made: Made, text: str, end: str) -> None:
        """Write the file's bytes, with the fault it has as a whole."""
        r = self.rng
        if self.fault == "open":
            text += f'"x{end}'
        elif r.random() < 0.1 and made.rows and not text.endswith(f"\n{end}"):
            text = text.removesuffix(end)
        made.data = text.encode(self.encoding)
        if self.fault == "empty":
            made.data = r.choice((b"", b"\n\n", b" "))
        elif self.fault == "nul":
            made.data = text.encode("utf-8") + b"\0"
        elif self.fault == "encoding":
            made.data = (text + f"é{end}").encode("latin-1", "replace") + b"\xff\xe9\n"


def make(seed: int, number: int) -> Made:
    """Make one file; the same seed and number make the same file."""
    return Writer(random.Random(f"{seed}/{number}")).made()
