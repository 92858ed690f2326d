"""The limited process that parses one workbook: bytes in on stdin, text out on stdout.

Run by path with Python's isolated mode and imports nothing of ours, so that a hostile workbook
can exhaust this process alone. The first line of the answer is JSON; CSV follows.
"""

import csv
import datetime
import fnmatch
import io
import json
import re
import resource
import sys
import warnings
from collections.abc import Iterator
from itertools import repeat
from typing import Any

MOST_DIGITS = 10**15
MOST_COLUMNS = 1000
MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^>]*?\bref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')
FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
ZEROS = re.compile(r"0+")


class UnfitError(Exception):
    """The workbook cannot be read as one table; the argument says why."""

    sheets: list[str] = []  # noqa: RUF012  (set where several are the problem)


def limit(memory: int, seconds: int) -> None:
    """Bound this process's memory and processor time."""
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def text_of(cell: Any) -> tuple[str | None, str | None]:
    """Return a cell as text and, where it holds no value to trust, the kind of its fault."""
    value = cell.value
    if value is None:
        return None, None
    if cell.data_type == "e":
        return str(value), "error_cell"
    if isinstance(value, bool):
        return ("true" if value else "false"), None
    if isinstance(value, int | float):
        kind = "lost_digits" if abs(value) >= MOST_DIGITS else None
        return number_text(value, str(cell.number_format)), kind
    if isinstance(value, datetime.datetime):
        is_whole = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
        shows_time = "h" in str(cell.number_format).lower()
        is_day = is_whole and not shows_time
        return (value.date().isoformat() if is_day else value.isoformat()), None
    if isinstance(value, datetime.timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}", None
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat(), None
    return str(value), None


def number_text(value: float, shown_as: str) -> str:
    """Write a number as the sheet shows it where its format pads with zeros or shows percent."""
    if shown_as.rstrip().endswith("%"):
        return f"{value * 100:.12g}%"
    if float(value).is_integer() and abs(value) < 1e18:
        whole = str(int(value))
        return whole.zfill(len(shown_as)) if ZEROS.fullmatch(shown_as) and value >= 0 else whole
    return repr(float(value))


def chosen_sheet(book: Any, wanted: str | None) -> Any:
    """Return the one sheet to read.

    Raises:
        UnfitError: where it is not there, or several are and none is named.
    """
    if wanted is not None:
        if wanted in book.sheetnames:
            return book[wanted]
        fits = [name for name in book.sheetnames if fnmatch.fnmatchcase(name, wanted)]
        if len(fits) != 1:
            raise UnfitError("no_sheet" if not fits else "sheets_fit")
        return book[fits[0]]
    hidden = sum(sheet.sheet_state != "visible" for sheet in book.worksheets)
    if hidden:
        raise UnfitError("hidden_sheet")
    if len(book.worksheets) != 1:
        raise UnfitError("several_sheets")
    return book.worksheets[0]


def rows_of(sheet: Any) -> Iterator[tuple[Any, ...]]:
    """Give a sheet's rows as they are, whatever size it declares."""
    sheet.reset_dimensions()
    for row in sheet.iter_rows():
        if len(row) > MOST_COLUMNS:
            raise UnfitError("too_wide")
        yield row


def column_number(letters: bytes) -> int:
    """Return the place of a column, A being 0."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1


def banners(markup: bytes, skip: int, header_rows: int) -> list[tuple[int, int, int]]:
    """Return merged cells of the header's rows: row, first and last column.

    Raises:
        UnfitError: where cells are merged below the header, or side by side in its last row.
    """
    found = []
    for left, first, right, last in MERGED.findall(markup):
        if int(last) <= skip:
            continue
        is_wide = left != right
        if int(last) > skip + header_rows or (is_wide and int(last) == skip + header_rows):
            raise UnfitError("merged_cells")
        found.append((int(first), column_number(left), column_number(right)))
    return found


def parse(
    data: bytes, sheet_name: str | None, skip: int, header_rows: int = 1
) -> tuple[dict[str, Any], list[list[str]]]:
    """Read one sheet: facts about it, and its rows as (row number, cells …).

    Raises:
        UnfitError: where the sheet cannot be read as one table.
    """
    # Optional companions that reading text has no use for, and that are slow to import.
    sys.modules.update(dict.fromkeys(("numpy", "PIL", "pandas"), None))  # type: ignore[arg-type]
    from openpyxl import load_workbook  # noqa: PLC0415  (limits come first)

    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    try:
        sheet = chosen_sheet(book, sheet_name)
    except UnfitError as problem:
        problem.sheets = list(book.sheetnames)
        raise
    with sheet._get_source() as source:
        markup = source.read()
    merged = banners(markup, skip, header_rows) if header_rows else []
    written: Iterator[Any] = repeat(())
    if FORMULA.search(markup):
        formulas = load_workbook(io.BytesIO(data), read_only=True, data_only=False)
        written = rows_of(formulas[sheet.title])
    del markup
    out: list[list[str]] = []
    faults: list[tuple[int, int, str]] = []
    for number, (row, formula_row) in enumerate(zip(rows_of(sheet), written, strict=False), 1):
        if number <= skip:
            continue
        cells = [""] * len(row)
        for at, cell in enumerate(row):
            value, kind = text_of(cell)
            if value is None and at < len(formula_row) and formula_row[at].data_type == "f":
                # A formula whose stored answer is an empty text has the type "str".
                kind = None if cell.data_type == "str" else "uncached_formula"
            if kind is not None:
                faults.append((number, at, kind))
            cells[at] = value or ""
        for banner, left, right in merged:
            if banner == number and left < len(cells):
                cells += [""] * (right + 1 - len(cells))
                cells[left : right + 1] = [cells[left]] * (right + 1 - left)
        while cells and not cells[-1]:
            cells.pop()
        out.append([str(number), *cells])
    faulty = {number for number, _, _ in faults}
    while out and len(out[-1]) == 1 and int(out[-1][0]) not in faulty:
        out.pop()
    facts = {
        "faults": faults, "width": max((len(row) for row in out), default=1) - 1,
        "sheets": list(book.sheetnames), "sheet": sheet.title,
    }  # fmt: skip
    return facts, out


def answer(request: dict[str, Any], data: bytes) -> str:
    """Return the whole answer as text."""
    try:
        facts, rows = parse(data, request["sheet"], request["skip_lines"], request["header_rows"])
    except UnfitError as problem:
        return json.dumps({"problem": str(problem), "sheets": problem.sheets}) + "\n"
    stream = io.StringIO()
    stream.write(json.dumps(facts) + "\n")
    width = facts["width"] + 1
    writer = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerows([*row, *[""] * (width - len(row))] for row in rows)
    return stream.getvalue()


def main() -> None:
    """Answer one request."""
    request = json.loads(sys.stdin.buffer.readline())
    limit(request["memory"], request["seconds"])
    warnings.simplefilter("ignore")
    text = answer(request, sys.stdin.buffer.read())
    sys.stdout.buffer.write(text.encode("utf-8", "replace"))


if __name__ == "__main__":
    main()
