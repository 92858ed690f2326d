"""The guide to `mapping.toml`, written from the keys: `python -m pipeline.intake.mapping_guide`.

Each key has an example that a test loads: what the export holds, what the mapping says, what is
read.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.intake.mapping_keys import KEYS, KIND_WORDS
from pipeline.intake.unit_names import SPELLED
from pipeline.intake.units import CLOCK, LINEAR, REFERENCES
from schemas.written import write_or_check

FILE = Path(__file__).parents[2] / "docs" / "mapping.md"
HEAD, ROW = "started_at,device_style,condition_before", "2026-03-10T09:00,ric,dead"


@dataclass(frozen=True)
class Example:
    """One key at work.

    Attributes:
        says: what the key does, in a sentence or two.
        mapping: the mapping's text.
        export: the export's text; of a workbook, its rows as CSV.
        gives: contract columns and values of the first row as text.
        name: the file's name.
        sheet: the sheet of a workbook that holds the rows; none for text.
    """

    says: str
    mapping: str
    export: str
    gives: tuple[tuple[str, str], ...]
    name: str = "sessions_2026-03.csv"
    sheet: str = ""


def _sessions(
    says: str, keys: str, export: str, *gives: tuple[str, str], sheet: str = ""
) -> Example:
    name = "sessions_2026-03.xlsx" if sheet else "sessions_2026-03.csv"
    return Example(says, f"[sessions]\n{keys}\n", export, gives, name, sheet)


def _with(columns: str, values: str) -> str:
    return f"{HEAD},{columns}\n{ROW},{values}\n"


EXAMPLES: dict[str, Example] = {
    "table": Example(
        "The table that a section's rows go to, where the section has another name: several kinds"
        " of file of one table. Needs `files`.",
        '[old_list]\ntable = "sessions"\nfiles = ["Liste_*.csv"]\n', f"{HEAD}\n{ROW}\n",
        (("condition_before", "dead"),), "Liste_2026-03.csv",
    ),
    "files": Example(
        "Patterns of file names; `*` stands for anything. The pattern's own text and dates from"
        " 2000 on are shown in lists and pages; whatever else `*` matched is hashed. Without it,"
        " files start with the table's name.",
        '[sessions]\nfiles = ["Trocknung_*.csv"]\n', f"{HEAD}\n{ROW}\n",
        (("device_style", "ric"),), "Trocknung_2026-03.csv",
    ),
    "export": _sessions(
        "`period` and `cumulative` files replace their earlier version of the same name whole;"
        " `rolling` ones (the last 90 days, say) merge by key. Without it, `period`.",
        'export = "rolling"', f"{HEAD}\n{ROW}\n", ("condition_before", "dead"),
    ),
    "delimiter": _sessions(
        "The one character between columns, or `tab`, `comma`, `semicolon`. Never guessed where"
        " it is not a comma.",
        'delimiter = ";"', f"{HEAD}\n{ROW}\n".replace(",", ";"), ("device_style", "ric"),
    ),
    "encoding": _sessions(
        "How letters are written as bytes, by Python's name; without it, UTF-8.",
        'encoding = "cp1252"\n[sessions.columns]\ncondition_before = "Gerät"',
        f"{HEAD}\n{ROW}\n".replace("condition_before", "Gerät"), ("condition_before", "dead"),
    ),
    "skip_lines": _sessions(
        "Lines, or rows of a sheet, above the header.",
        "skip_lines = 2", f"Drying list\nprinted in April\n{HEAD}\n{ROW}\n",
        ("condition_before", "dead"),
    ),
    "header_rows": _sessions(
        "Rows that make up the header, up to 3: a banner over groups of columns and the names"
        " below. Names are joined by a space, a banner's goes to every column it covers.",
        'header_rows = 2\n[sessions.columns]\nstarted_at = "Visit Date"\ndevice_style = "Aid Type"'
        '\ncondition_before = "Aid Before"',
        "Visit,Aid,\nDate,Type,Before\n2026-03-10T09:00,ric,dead\n", ("condition_before", "dead"),
    ),
    "sheet": _sessions(
        "The sheet of a workbook: its name, or a pattern that one sheet fits.",
        'sheet = "Export *"', f"{HEAD}\n{ROW}\n", ("condition_before", "dead"),
        sheet="Export March",
    ),
    "decimal_comma": _sessions(
        "Numbers have a decimal comma.",
        'delimiter = ";"\ndecimal_comma = true',
        _with("moisture_ul", "4.2").replace(",", ";").replace("4.2", "4,2"), ("moisture_ul", "4.2"),
    ),
    "thousands_mark": _sessions(
        "What stands between thousands in numbers.",
        'thousands_mark = "\'"', _with("hours_since_exposure,exposure", "1'200,immersion"),
        ("hours_since_exposure", "1200.0"),
    ),
    "date_order": _sessions(
        "The order of day, month and year. Without it only 2026-03-10 is read. A date that"
        " contradicts it refuses the file. AM and PM are read.",
        'date_order = "dmy"', f"{HEAD}\n10.03.2026 9:00 PM,ric,dead\n",
        ("local_date", "2026-03-10"),
    ),
    "serial_dates": _sessions(
        "Days are a spreadsheet's day numbers, counted from 1900 or from 1904 (older files of"
        " one maker's computers); a part of a day, or a time in a second column, is its time.",
        'serial_dates = "1900"\n[sessions.columns]\nstarted_at = ["Day", "Time"]',
        "Day,Time,device_style,condition_before\n46091,01:30 PM,ric,dead\n",
        ("local_date", "2026-03-10"),
    ),
    "century": _sessions(
        "Added to years of two digits; beside `date_order`.",
        'date_order = "dmy"\ncentury = 2000', f"{HEAD}\n10.03.26,ric,dead\n",
        ("local_date", "2026-03-10"),
    ),
    "zone": _sessions(
        "The time zone of the moments, where it is not the site's.",
        'zone = "Etc/UTC"', f"{HEAD}\n{ROW}\n", ("started_at", "2026-03-10 09:00:00+00:00"),
    ),
    "repeated_hour": _sessions(
        "Which is meant of a time that the clocks showed twice in autumn, `first` or `second`.",
        'repeated_hour = "second"', f"{HEAD}\n2025-10-26T02:30,ric,dead\n",
        ("started_at", "2025-10-26 01:30:00+00:00"),
    ),
    "skipped_hour": _sessions(
        "`forward` reads a time that the clocks skipped in spring as a clock shows it that was"
        " not put forward.",
        'skipped_hour = "forward"', f"{HEAD}\n2026-03-29T02:30,ric,dead\n",
        ("started_at", "2026-03-29 01:30:00+00:00"),
    ),
    "clock_offset_minutes": Example(
        "Minutes added to every moment of the file. **A clock that is 7 minutes fast: -7; one"
        " that is 7 minutes slow: 7.** `check` of a log estimates it and says the line to write;"
        " look at both clocks before you write it.",
        "[chamber_runs]\nclock_offset_minutes = -7\nzone = \"Etc/UTC\"\n",
        "started_at,dryer_id\n2026-03-10T09:07,D1\n",
        (("started_at", "2026-03-10 09:00:00+00:00"),), "chamber_runs_2026.csv",
    ),
    "match_window_minutes": Example(
        "A run of a chamber's log takes the records of the chamber that start so near, where it"
        " names no session. A record that fits two runs is left out until that is settled.",
        "[chamber_runs]\nmatch_window_minutes = 15\n", "started_at,dryer_id\n2026-03-10T09:00,D1\n",
        (("match_window_minutes", "15.0"),), "chamber_runs_2026.csv",
    ),
    "barometer_kpa": _sessions(
        "The air's pressure, for gauge and vacuum readings.",
        'barometer_kpa = 100\n[sessions.units]\nchamber_pressure_min_kpa_abs = "kPa vacuum"',
        _with("chamber_pressure_min_kpa_abs", "95"), ("chamber_pressure_min_kpa_abs", "5.0"),
    ),
    "barometer_kpa_column": _sessions(
        "The column that holds it.",
        'barometer_kpa_column = "Air"\n[sessions.units]\nchamber_pressure_min_kpa_abs ='
        ' "inHg vacuum"', _with("chamber_pressure_min_kpa_abs,Air", "28,101.3"),
        ("chamber_pressure_min_kpa_abs", "6.48"),
    ),
    "below_detection": _sessions(
        "Words in place of a water reading that mean \"below detection\"; never zero.",
        'below_detection = ["LOW", "<0.5"]', _with("moisture_ul", "LOW"),
        ("is_moisture_below_detection", "True"),
    ),
    "empty_words": _sessions(
        "Words that mean \"no value\".",
        'empty_words = ["-", "k.A."]', _with("ear,moisture_ul", "-,4.2"), ("ear", "None"),
    ),
    "columns": _sessions(
        "The export's own column for each of the contract's; several are joined by a space, as"
        " day and time are.",
        '[sessions.columns]\nstarted_at = ["Date", "Time"]\ncondition_before = "State"',
        "Date,Time,device_style,State\n2026-03-10,01:30 PM,ric,dead\n",
        ("condition_before", "dead"),
    ),
    "left": _sessions(
        "The columns of the left aid where a row holds a visit with two aids; beside `right`. A"
        " column `ear` under `columns` may name the side that was dried: left, right or both.",
        '[sessions.left]\ndevice_style = "L type"\ncondition_before = "L state"\n'
        '[sessions.right]\ndevice_style = "R type"\ncondition_before = "R state"',
        "started_at,L type,L state,R type,R state\n2026-03-10T09:00,ric,dead,bte,weak\n",
        ("ear", "left"), ("condition_before", "dead"),
    ),
    "right": _sessions(
        "The columns of the right aid; a side whose columns are empty makes no row.",
        '[sessions.columns]\near = "Side"\n[sessions.left]\ndevice_style = "L type"\n'
        'condition_before = "L state"\n[sessions.right]\ndevice_style = "R type"\n'
        'condition_before = "R state"\n[sessions.values.ear]\n"RE" = "right"\n"beide" = "both"',
        "started_at,Side,L type,L state,R type,R state\n2026-03-10T09:00,RE,,,bte,weak\n",
        ("ear", "right"), ("condition_before", "weak"),
    ),
    "values": _sessions(
        "What the clinic's own words stand for, whatever their case; `\"\"` means no value.",
        '[sessions.values.condition_before]\n"defekt" = "dead"',
        f"{HEAD}\n2026-03-10T09:00,ric,Defekt\n", ("condition_before", "dead"),
    ),
    "units": _sessions(
        "The unit that a column is written in, in any usual spelling (see below); cells may carry"
        " it. Without it, the contract's unit. A pressure says whether it is absolute, gauge or"
        " vacuum.",
        '[sessions.units]\nmoisture_ul = "mL"\nchamber_temp_max_c = "°F"',
        _with("moisture_ul,chamber_temp_max_c", "0.0042 ml,104"), ("moisture_ul", "4.2"),
        ("chamber_temp_max_c", "40.0"),
    ),
    "constants": _sessions(
        "The one value that a column has in all rows.",
        '[sessions.constants]\ndryer_id = "D1"', f"{HEAD}\n{ROW}\n", ("dryer_id", "D1"),
    ),
    "separators": _sessions(
        "What stands between several words in one cell, where it is not `;`.",
        '[sessions.separators]\nsymptoms = "+"', _with("symptoms", "no_sound+noisy"),
        ("symptoms", "['no_sound', 'noisy']"),
    ),
}  # fmt: skip

INTRO = """# mapping.toml, key by key

*Written by `python -m pipeline.intake.mapping_guide`; a test loads every example.*

A clinic keeps its export as it is and puts `mapping.toml` into its folder beside it.
`drytally map SAMPLE… --site ID` writes one and asks what it cannot know; this page is for reading
and changing it. A section is named for its table, or for anything with `table` and `files`:

```toml
[sessions]
files = ["Trocknung_*.csv"]
[sessions.columns]
condition_before = "Zustand"
```

Every mistake in a mapping is told at once, each with its line. Units, dates, delimiters and words
are never guessed: what could be read in two ways is refused with the line to add.
"""


def markdown() -> str:
    """Return the guide's text."""
    parts = [INTRO]
    for key, (kind, allowed) in KEYS.items():
        one = EXAMPLES[key]
        words = f"; one of {', '.join(f'`{w}`' for w in allowed)}" if allowed else ""
        gives = "; ".join(f"`{column}` = {value}" for column, value in one.gives)
        what = f'sheet "{one.sheet}" of {one.name}' if one.sheet else one.name
        parts.append(
            f"## {key}\n\n{KIND_WORDS[kind][:1].upper()}{KIND_WORDS[kind][1:]}{words}. {one.says}\n"
            f"\n```toml\n{one.mapping.strip()}\n```\n\n{what}:\n\n```\n{one.export.strip()}\n```\n\n"
            f"gives, in the first row: {gives}.\n"
        )
    parts.append(_units())
    return "\n".join(parts)


def _units() -> str:
    lines = ["## Units and their spellings\n", "| contract | written as |", "| --- | --- |"]
    for unit, own in LINEAR.items():
        known = SPELLED.get(unit, {})
        words = {name: sorted(word for word in known if known[word] == name) for name in own}
        spelled = [f"{name} ({', '.join(listed)})" for name, listed in words.items()]
        lines.append(f"| {unit} | {'; '.join(spelled)} |")
    clocks = ", ".join(CLOCK)
    return "\n".join(lines) + (
        f"\n\nMinutes and hours may also be written as {clocks}. A pressure is followed by"
        f" {', '.join(REFERENCES)} or a short form of it (abs, rel, vac, `barg`, `psia`).\n"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the guide, or with --check compare it; returns 1 where it is stale."""
    return write_or_check(
        markdown(), FILE, module="pipeline.intake.mapping_guide", about=__doc__, argv=arguments
    )


if __name__ == "__main__":
    sys.exit(main())
