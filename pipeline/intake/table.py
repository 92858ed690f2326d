"""A file as text: every cell a string, every record with its line, before and after the contract.

`RawTable` has the file's own columns; `canonical` keeps those of the contract.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.intake.names import safe_header
from pipeline.intake.options import ReadOptions
from pipeline.intake.refusal import refused

CANDIDATES = (",", ";", "\t", "|")
BROKEN = {"line": pl.Int64, "fields": pl.Int64, "wanted": pl.Int64}
FAULTS = {"line": pl.Int64, "column_name": pl.String, "kind": pl.String}
ILL_QUOTED, TOO_LONG = -1, -2
LONGEST_RECORD = 65_536
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
        rows: canonical columns as text (null where empty) and `line`, the physical line.
        broken: records with a wrong number of fields: line, fields (found), wanted.
        rows_read: records read, broken ones too.
        skipped_lines: blank lines, comment lines, total rows and repeated headers.
        dropped: columns outside the contract, by a name that may be shown.
        notes: sentences for the reader, such as a missing final newline.
        faults: single cells that hold no value that can be trusted.
    """

    rows: pl.DataFrame
    broken: pl.DataFrame
    rows_read: int
    skipped_lines: int
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=FAULTS))


def canonical(raw: RawTable, columns: Sequence[str]) -> TextTable:
    """Keep the contract's columns, trimmed, empty text as null; name the others safely."""
    kept = [name for name in raw.header if name in columns]
    dropped = [safe_header(n, i + 1) for i, n in enumerate(raw.header) if n not in columns]
    rows = raw.cells.select(
        raw.line.alias("line"), *(pl.col(name).str.strip_chars().replace("", None) for name in kept)
    )
    return TextTable(
        rows=rows,
        broken=raw.broken,
        rows_read=raw.rows_read,
        skipped_lines=raw.skipped_lines,
        dropped=dropped,
        notes=list(raw.notes),
        faults=raw.faults.filter(pl.col("column_name").is_in(kept)),
    )


def named(header: Sequence[str]) -> list[str]:
    """Trim header names; a column without a name gets a placeholder."""
    plain = [name.strip() for name in header]
    return [name or f"(unnamed {at})" for at, name in enumerate(plain, start=1)]


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
        line = f'{missing[0]} = "the name in your file"'
        site = shown.split("/", maxsplit=1)[0]
        raise refused(
            shown,
            f"column '{missing[0]}' is missing"
            + (f" (also {', '.join(missing[1:])})" if len(missing) > 1 else ""),
            f"Rename the column in the export, or add to {site}/mapping.toml:"
            f" [{options.table_name or 'table'}.columns] {line}",
            found=", ".join(others) if others else "no other column",
            expected=f"a header with {', '.join(expected)}",
        )
