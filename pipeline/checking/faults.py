"""What is wrong with a file, by line: the clinic's own column and value beside the rule."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.checking.shown import looks_personal, may_show_header, may_show_value, shape_of
from pipeline.errors import FileRefusedError
from pipeline.intake.find import FoundFile
from pipeline.intake.mapped import own_columns
from pipeline.intake.names import safe_header
from pipeline.intake.table import RawTable
from pipeline.screening.reading import Work, model_of, raw_work, section_for
from pipeline.trial import Judged
from schemas.declare import INSTANT
from schemas.exports.catalogue import ColumnSpec, columns_of
from schemas.rule_book import kind_of
from schemas.rules import Kind

SHORT = 12


# A set rule on a row's day or session speaks of the moment that the row gives.
MOMENT_OF = {"local_date": "moment"}


@dataclass(frozen=True)
class Fault:
    """One fault of one row.

    Attributes:
        line, part: physical line, and which of the rows made of it.
        outcome: `row` (the row would be left out), `value` (only the value), or `once` (the row
            is there already and counts once).
        rule, sentence: the rule that is not met: its code, and what it says.
        kind: what sort of fault it is.
        column: the contract's column, if the fault is of one.
        headers: the file's own columns it was read from.
        own: those as they may be shown.
        raw: the cell as it stands in the file; never to be printed unless `is_shown`.
        is_shown: the value may be shown on the user's own terminal.
    """

    line: int
    part: int
    outcome: str
    rule: str
    sentence: str
    kind: Kind
    column: str | None
    headers: tuple[str, ...]
    own: str
    raw: str | None
    is_shown: bool
    advice: str

    @property
    def is_shown_word(self) -> bool:
        """The cell is a short text that could be a word, nothing like a person's details."""
        raw = self.raw or ""
        return 0 < len(raw) <= SHORT and not looks_personal(raw)

    def told(self, *, show_values: bool) -> str:
        """Return the value, or its shape."""
        if self.kind is Kind.RECORD or self.column is None:
            return ""
        if show_values and self.is_shown and self.raw is not None:
            return f'"{self.raw}"'
        return shape_of(self.raw)


@dataclass(frozen=True)
class Own:
    """A file under its own column names, and which of them is which of the contract's."""

    raw: RawTable | None
    columns: Mapping[int, Mapping[str, tuple[str, ...]]]
    specs: Mapping[str, ColumnSpec]
    rows: int

    def cells(self, part: int, column: str) -> pl.Series | None:
        """Return one column's cells as they stand in the file."""
        own = self.columns.get(part, {}).get(column)
        if self.raw is None or own is None:
            return None
        parts = [pl.col(name) for name in own]
        joined = pl.concat_str(parts, separator=" ", ignore_nulls=True).str.strip_chars()
        return self.raw.cells.select(joined.replace("", None).alias(column))[column]

    def unread(self) -> list[str]:
        """Return the columns that nothing is read from, as they may be shown to the owner."""
        if self.raw is None:
            return []
        used = {h for places in self.columns.values() for own in places.values() for h in own}
        return [
            name if may_show_header(name) else safe_header(name, at)
            for at, name in enumerate(self.raw.header, start=1)
            if name not in used
        ]

    def given(self, column: str) -> pl.Series:
        """Return every cell of a contract's column that holds something, of all parts."""
        found = [self.cells(part, column) for part in self.columns]
        kept = [cells.drop_nulls() for cells in found if cells is not None]
        return pl.concat(kept) if kept else pl.Series(dtype=pl.String)


def work_of(item: FoundFile) -> Work:
    """Return a found file as screening takes it."""
    return Work(
        "checked", item.path, item.place, item.site_id, item.table_name or "", "",
        item.bytes, member=item.member, section=item.section,
    )  # fmt: skip


def own_table(item: FoundFile) -> Own:
    """Read a file under its own column names; where it cannot be read, nothing is known of it."""
    if item.table_name is None:
        return Own(None, {}, {}, 0)
    specs = columns_of(model_of(item.table_name))
    known = {spec.name: spec for spec in specs}
    work = work_of(item)
    try:
        raw = raw_work(work)
    except (FileRefusedError, OSError):
        return Own(None, {}, known, 0)
    return Own(raw, own_columns(raw, section_for(work), specs), known, raw.cells.height)


def faults_of(judged: Judged, own: Own) -> list[Fault]:
    """Return every fault of a judged file, by line."""
    found = [
        *_faults(judged.quarantined, own, judged.item.table_name or "", "row"),
        *_faults(judged.refused, own, judged.item.table_name or "", "value"),
    ]
    return sorted(found, key=lambda f: (f.line, f.part, f.column or "", f.rule))


def _faults(frame: pl.DataFrame, own: Own, table: str, outcome: str) -> Iterator[Fault]:
    at = {line: row for row, line in enumerate(own.raw.line)} if own.raw is not None else {}
    cells: dict[tuple[int, str], pl.Series | None] = {}
    moment = next((s.name for s in own.specs.values() if s.dtype == INSTANT), None)
    for row in frame.iter_rows(named=True):
        column = row["column_name"]
        column = moment if column == "local_date" else column
        spec = own.specs.get(column or "")
        kind = Kind(kind_of(row["rule"]))
        part = row["part_of_line"]
        if column is not None and (part, column) not in cells:
            cells[part, column] = own.cells(part, column)
        series = cells.get((part, column)) if column is not None else None
        place = at.get(row["line"])
        raw = series[place] if series is not None and place is not None else None
        headers = own.columns.get(part, {}).get(column or "", ())
        yield Fault(
            row["line"], part,
            "once" if kind is Kind.DUPLICATE else outcome,
            row["rule"], row["sentence"], kind, column, headers,
            own_name(own, headers, column), raw,
            spec is not None and may_show_value(raw, spec), row["advice"] or "",
        )  # fmt: skip


def own_name(own: Own, headers: Sequence[str], column: str | None) -> str:
    """Return the clinic's own column as it may be shown on its own terminal."""
    if own.raw is None or not headers:
        return column or ""
    return " + ".join(
        name if may_show_header(name) else safe_header(name, own.raw.header.index(name) + 1)
        for name in headers
    )


def hidden(fault: Fault) -> Fault:
    """Return a fault that shows no value, as outside the user's own terminal."""
    return replace(fault, is_shown=False)
