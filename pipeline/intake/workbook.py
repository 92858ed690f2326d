"""Read a workbook: its archive is proved first, then a limited process parses it."""

import io
import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import Way
from pipeline.intake.archive import prove
from pipeline.intake.options import ReadOptions
from pipeline.intake.refusal import mapping_line, refused
from pipeline.intake.table import (
    BROKEN,
    FAULTS,
    TO_DO_MARK,
    TOO_LONG,
    TOTALS,
    RawTable,
    check_header,
    joined_header,
    named,
)
from schemas.rules import LONGEST_RECORD

PARSER = Path(__file__).with_name("sheet_process.py")
LARGEST_UNPACKED = 512 * 1024**2
MOST_MEMORY = 2 * 1024**3
LEAST_SECONDS, SECONDS_PER_MEGABYTE = 60, 6
OLD_FORMAT = b"\xd0\xcf\x11\xe0"
BANNER_ROWS = 40
GRID = 60
NUMBER = "row_number"
OF_SHEETS = {"no_sheet", "sheets_fit", "hidden_sheet", "several_sheets"}


def read_workbook(
    data: bytes, shown: str, expected: Sequence[str], options: ReadOptions
) -> RawTable:
    """Read one sheet as text; a record's line is its row in the sheet.

    Dates become ISO text (in the 1900 or 1904 system the workbook declares), numbers their
    shortest form. Cells that hold an error, a formula without a stored answer, or a number of
    16 digits or more are listed as faults.

    Raises:
        FileRefusedError: where the archive is damaged or a trap, the sheet is not told, or the
            header is not the one expected.
    """
    _prove(data, shown)
    facts, sheet = _parsed(data, shown, options)
    if sheet.height == 0:
        raise refused(shown, "is empty", "Export it again; a sheet needs its header row.")
    if str(sheet.row(0)[1] or "").startswith(TO_DO_MARK):
        raise refused(
            shown, "is a to-do list that check wrote, not an export",
            "Correct the export itself, and keep the list out of the exports folder.",
        )  # fmt: skip
    return _below_header(sheet, facts["faults"], shown, expected, options)


def sheet_grid(
    data: bytes, shown: str, sheet: str | None
) -> tuple[list[str], str | None, list[list[str]]]:
    """Return a workbook's sheets, the one that is read, and its first rows as text.

    With several sheets and none named, no sheet is read; merged cells are no matter here.

    Raises:
        FileRefusedError: where the archive is damaged or cannot be parsed.
    """
    _prove(data, shown)
    try:
        facts, frame = _parsed(data, shown, ReadOptions(sheet=sheet, header_rows=0))
    except _SheetsError as found:
        return found.sheets, None, []
    rows = [
        list(map(str, (cell or "" for cell in row[1:]))) for row in frame.head(GRID).iter_rows()
    ]
    first = int(frame[NUMBER][0]) if frame.height else 1
    width = int(facts["width"])
    return facts["sheets"], facts["sheet"], [*[[""] * width] * (first - 1), *rows]


class _SheetsError(Exception):
    """A workbook of several sheets, none of them named."""

    def __init__(self, sheets: list[str]) -> None:
        self.sheets = sheets


def _parsed(data: bytes, shown: str, options: ReadOptions) -> tuple[dict[str, Any], pl.DataFrame]:
    seconds = LEAST_SECONDS + SECONDS_PER_MEGABYTE * (len(data) // 1024**2)
    request = {
        "sheet": options.sheet,
        "skip_lines": options.skip_lines,
        "header_rows": options.header_rows,
        "memory": MOST_MEMORY,
        "seconds": seconds,
    }
    try:
        done = subprocess.run(  # noqa: S603  (our own file, by this interpreter, no shell)
            [sys.executable, "-I", str(PARSER)],
            input=json.dumps(request).encode() + b"\n" + data,
            capture_output=True,
            timeout=2 * seconds,
            check=False,
            env={"LC_ALL": "C.UTF-8"},
        )
    except subprocess.TimeoutExpired as error:
        raise _unreadable(shown, "took too long to parse") from error
    if done.returncode != 0 or not done.stdout:
        # What the process said may quote cells, so it is dropped.
        raise _unreadable(shown, "is not a workbook that can be read within its limits")
    first, _, body = done.stdout.partition(b"\n")
    facts: dict[str, Any] = json.loads(first)
    problem = facts.get("problem")
    if problem in {"several_sheets", "hidden_sheet"} and not options.header_rows:
        raise _SheetsError(facts["sheets"])
    if problem:
        raise _unfit(problem, shown, options, facts.get("sheets", []))
    columns = [NUMBER, *(str(at) for at in range(facts["width"]))]
    schema = dict.fromkeys(columns, pl.String)
    if not body:
        return facts, pl.DataFrame(schema=schema | {NUMBER: pl.Int64})
    sheet = pl.read_csv(
        io.BytesIO(body), has_header=False, new_columns=columns, schema=schema
    ).with_columns(pl.col(NUMBER).cast(pl.Int64))
    return facts, sheet


def _unreadable(shown: str, what: str) -> Exception:
    return refused(shown, what, "Open it in your spreadsheet and save it again, or save as CSV.")


def _unfit(problem: str, shown: str, options: ReadOptions, sheets: Sequence[str]) -> Exception:
    sheet = mapping_line(shown, options, 'sheet = "its name"')
    told = {
        "no_sheet": (
            "has no sheet of the name its mapping gives", "Correct sheet in the mapping.",
        ),
        "sheets_fit": (
            "has several sheets that fit the pattern its mapping gives",
            "Make the pattern fit one sheet.",
        ),
        "hidden_sheet": ("has a hidden sheet", f"Delete that sheet, or {sheet}"),
        "several_sheets": ("has several sheets", f"Keep one sheet, or {sheet}"),
        "merged_cells": (
            "has merged cells at or below its header, so that cells beside them are empty",
            f"Undo the merging, or {mapping_line(shown, options, 'skip_lines = n')} where they"
            " lie above the header, or header_rows = 2 where they are its upper row",
        ),
        "too_wide": ("has more columns than any export", "Export only the columns needed."),
    }  # fmt: skip
    what, todo = told[problem]
    ways: tuple[Way, ...] = ()
    if problem in OF_SHEETS:
        ways = (Way(("sheet",), None, tuple(sheets)),)
    elif problem == "merged_cells" and options.header_rows == 1:
        ways = (Way(("header_rows",), 2),)
    return refused(shown, what, todo, ways=ways)


def _prove(data: bytes, shown: str) -> None:
    """Refuse what is no sound workbook before anything parses it."""
    if data.startswith(OLD_FORMAT):
        raise refused(
            shown, "is protected by a password or in the old .xls format",
            "Save it as .xlsx without a password.",
        )  # fmt: skip
    prove(data, shown, LARGEST_UNPACKED)


def _below_header(
    sheet: pl.DataFrame,
    faults: list[list[Any]],
    shown: str,
    expected: Sequence[str],
    options: ReadOptions,
) -> RawTable:
    top = min(options.header_rows, sheet.height)
    header = _header(*(sheet.row(at) for at in range(top)))
    if not set(expected) <= set(header):
        _tell_banner(sheet, shown, expected, options)
    check_header(header, shown, expected, options)
    header_row = int(sheet[NUMBER][top - 1])
    last_names = [name.strip() for name in _cells_of(sheet.row(top - 1))]
    columns = [str(at) for at in range(len(header))]
    beyond = [name for name in sheet.columns if name not in {NUMBER, *columns}]
    listed = pl.DataFrame(
        faults, schema={"line": pl.Int64, "at": pl.Int64, "kind": pl.String}, orient="row"
    ).filter((pl.col("line") > header_row) & (pl.col("at") < len(header)))
    body = sheet.slice(top)
    texts = [pl.col(name).fill_null("") for name in columns]
    trimmed = [text.str.strip_chars() for text in texts]
    body = body.with_columns(
        is_faulty=pl.col(NUMBER).is_in(listed["line"].unique().implode()),
        is_blank=pl.all_horizontal(text == "" for text in [*trimmed, *map(_plain, beyond)]),
        is_header=pl.all_horizontal(
            text == name if name else pl.lit(value=True)
            for text, name in zip(trimmed, [*last_names, *[""] * len(header)], strict=False)
        ),
        is_comment=texts[0].str.starts_with("#"),
        is_total=trimmed[0].str.to_lowercase().is_in(TOTALS),
        is_long=pl.sum_horizontal(text.str.len_chars() for text in texts) > LONGEST_RECORD,
        fields=pl.max_horizontal(
            pl.lit(0),
            *(
                pl.when(_plain(name) != "").then(at)
                for at, name in enumerate(beyond, start=len(header) + 1)
            ),
        ).cast(pl.Int64),
    )
    skip = ~pl.col("is_faulty") & pl.any_horizontal(
        "is_blank", "is_header", "is_comment", "is_total"
    )
    skipped = body.filter(skip).height
    body = body.filter(~skip)
    bad = pl.col("is_long") | (pl.col("fields") > 0)
    broken = body.filter(bad).select(
        line=NUMBER,
        fields=pl.when("is_long").then(TOO_LONG).otherwise("fields").cast(pl.Int64),
        wanted=pl.lit(len(header), dtype=pl.Int64),
    )
    good = body.filter(~bad)
    cells = good.select(pl.col(c).alias(n) for c, n in zip(columns, header, strict=True))
    names = pl.DataFrame(
        {"at": list(range(len(header))), "column_name": header},
        schema={"at": pl.Int64, "column_name": pl.String},
    )
    told = listed.join(names, on="at").select(*FAULTS)
    told = pl.concat([told, *_lost_columns(told, cells, good[NUMBER])]).unique(
        ["line", "column_name"], keep="first", maintain_order=True
    )
    told = told.join(good.select(line=NUMBER), on="line", how="semi", maintain_order="left")
    notes = [] if cells.height + broken.height else ["the sheet has a header and no rows"]
    return RawTable(
        header, cells, good[NUMBER].alias("line"), broken.cast(BROKEN), told, skipped, notes  # type: ignore[arg-type]
    )  # fmt: skip


def _lost_columns(faults: pl.DataFrame, cells: pl.DataFrame, line: pl.Series) -> list[pl.DataFrame]:
    """Refuse a column whole where one of its numbers has lost digits."""
    names = faults.filter(pl.col("kind") == "lost_digits")["column_name"].unique().sort()
    return [
        pl.DataFrame({"line": line.filter(cells[name].fill_null("") != "")}).with_columns(
            column_name=pl.lit(name), kind=pl.lit("lost_digits")
        )
        for name in names
    ]


def _plain(name: str) -> pl.Expr:
    return pl.col(name).fill_null("").str.strip_chars()


def _cells_of(row: tuple[Any, ...]) -> list[str]:
    return [name or "" for name in row[1:]]


def _header(*rows: tuple[Any, ...]) -> list[str]:
    names = joined_header([_cells_of(row) for row in rows])
    while names and not names[-1].strip():
        names.pop()
    return named(names)


def _tell_banner(
    sheet: pl.DataFrame, shown: str, expected: Sequence[str], options: ReadOptions
) -> None:
    """Where the header stands further down, refuse and say how many rows to skip."""
    for row in sheet.slice(1, BANNER_ROWS).iter_rows():
        if set(expected) <= set(_header(row)):
            skip = int(row[0]) - 1
            add = mapping_line(shown, options, f"skip_lines = {skip}")
            raise refused(
                shown,
                f"its header stands in row {skip + 1}, below other rows",
                f"Delete the rows above the header, or {add}",
                ways=(Way(("skip_lines",), skip),),
            )
