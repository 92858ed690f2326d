"""A file as text: every cell a string, every record with its line, before and after the contract.

`RawTable` has the file's own columns, `TextTable` those of the contract.
"""

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.errors import Way
from pipeline.intake.names import listed, safe_header
from pipeline.intake.options import ReadOptions
from pipeline.intake.refusal import refused

CANDIDATES = (",", ";", "\t", "|")
BROKEN = {"line": pl.Int64, "fields": pl.Int64, "wanted": pl.Int64}
FAULTS = {"line": pl.Int64, "column_name": pl.String, "kind": pl.String}
ROW_FAULTS = {"line": pl.Int64, "part_of_line": pl.Int64, **FAULTS}
ILL_QUOTED, TOO_LONG, NO_AID, OTHER_SIDE = -1, -2, -3, -4
TO_DO_MARK = "drytally to-do list"
TOTALS = ("total", "totals", "grand total", "sum")


@dataclass(frozen=True)
class RawTable:
    """A file as text under its own column names.

    Attributes:
        header: the file's columns, in order; none twice.
        cells: those columns as text, one row a sound record.
        line: the physical line, or the sheet's row, where each record starts.
        broken: records with a wrong number of fields: line, fields (found), wanted.
        faults: single cells that hold no value that can be trusted: line, column_name, kind
            (`error_cell`, `uncached_formula`, `lost_digits`).
        skipped_lines: blank lines, comment lines, total rows and repeated headers.
        notes: sentences for the reader, such as a missing final newline.
    """

    header: list[str]
    cells: pl.DataFrame
    line: pl.Series
    broken: pl.DataFrame
    faults: pl.DataFrame
    skipped_lines: int
    notes: list[str] = field(default_factory=list)

    @property
    def rows_read(self) -> int:
        """Records read, broken ones too."""
        return self.cells.height + self.broken.height


@dataclass(frozen=True)
class TextTable:
    """A file as text under the contract's column names.

    Attributes:
        rows: canonical columns as text (null where empty), `line`, the physical line, and
            `part_of_line`, which of the rows made of it.
        broken: records with a wrong number of fields: line, fields (found), wanted.
        rows_read: rows made of the records read, broken records among them.
        lines_read: records read, broken ones too.
        skipped_lines: blank lines, comment lines, total rows and repeated headers.
        dropped: columns outside the contract, by a name that may be shown.
        notes: sentences for the reader, such as a missing final newline.
        faults: single cells that hold no value that can be trusted, or are not written as the
            mapping says: line, part_of_line, column_name, kind.
    """

    rows: pl.DataFrame
    broken: pl.DataFrame
    rows_read: int
    lines_read: int
    skipped_lines: int
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=ROW_FAULTS))


def named(header: Sequence[str]) -> list[str]:
    """Trim header names; a column without a name gets a placeholder."""
    plain = [name.strip() for name in header]
    return [name or f"(unnamed {at})" for at, name in enumerate(plain, start=1)]


def spread(row: Sequence[str]) -> list[str]:
    """Give the empty cells of an upper header row the name at their left, as a banner's are."""
    out: list[str] = []
    for name in row:
        out.append(name.strip() or (out[-1] if out else ""))
    return out


def joined_header(rows: Sequence[Sequence[str]]) -> list[str]:
    """Join the rows of a header column by column; an upper row's name comes first."""
    width = len(rows[-1]) if len(rows) == 1 else max(len(row) for row in rows)
    padded = [[*row, *[""] * (width - len(row))] for row in rows]
    parts = ([name.strip() for name in column] for column in zip(*padded, strict=True))
    return [" ".join(dict.fromkeys(name for name in own if name)) for own in parts]


def check_header(
    header: list[str], shown: str, expected: Sequence[str], options: ReadOptions
) -> None:
    """Refuse a header with a column twice, or without a column that must be there.

    Raises:
        FileRefusedError: naming the column and the line that would map it.
    """
    twice = sorted({name for name in header if header.count(name) > 1})
    if twice:
        names = ", ".join(safe_header(name, header.index(name) + 1) for name in twice)
        raise refused(shown, f"column {names} is there twice", "Keep one of them.")
    missing = [name for name in expected if name not in header]
    if missing:
        others = [
            safe_header(name, at + 1) for at, name in enumerate(header) if name not in expected
        ]
        site = shown.split("/", maxsplit=1)[0]
        line = f'[{options.table_name or "table"}.columns] {missing[0]} = "the name in your file"'
        todo = f"Rename the column in the export, or add to {site}/mapping.toml: {line}"
        if missing[0] in options.mapped:
            place = options.mapped[missing[0]]
            todo = f"Correct its name in {site}/mapping.toml, line {place.line}."
        raise refused(
            shown,
            f"column '{missing[0]}' is missing"
            + (f" (also {', '.join(missing[1:])})" if len(missing) > 1 else ""),
            todo,
            found=listed(others) if others else "no other column",
            expected=f"a header with {', '.join(expected)}",
            ways=tuple(_ways(missing, header, expected, options)),
        )


def _ways(
    missing: Sequence[str], header: Sequence[str], expected: Sequence[str], options: ReadOptions
) -> Iterator[Way]:
    """Say for each missing column which key would name it, and the columns that are free."""
    free = tuple(name for name in header if name not in expected)
    for name in missing:
        place = options.mapped.get(name)
        if place is None:
            yield Way(("columns", name), None, free)
        elif place.is_alone:
            near = difflib.get_close_matches(name, free, n=len(free) or 1, cutoff=0.0)
            yield Way(place.path, None, tuple(near))
