"""Read the files of one batch as text by their table's contract: one by one, or joined.

Files of one header and one mapping that are plain are parsed and mapped as if they were one: what
a small file costs is the calls made for it, not its bytes. Whatever may be judged of a file as a
whole (its quotes, a comma in its numbers, dates in another order) is read one by one.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.errors import FileRefusedError, Way
from pipeline.intake import read, written
from pipeline.intake.corrections import Correction, apply_corrections
from pipeline.intake.delimited import Opened, oddities, opened, parsed_together
from pipeline.intake.distinct import read_each
from pipeline.intake.mapped import LINE, expected_columns, map_table, own_columns
from pipeline.intake.mapping import Section
from pipeline.intake.options import ReadOptions
from pipeline.intake.table import BROKEN, FAULTS, RawTable, TextTable
from schemas.declare import Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, ColumnSpec, columns_of, moment_of

IMPLIED = ["site_id"]
NO_TEXT = (".parquet", ".xlsx")
FEWEST = 2


@dataclass(frozen=True)
class Work:
    """One file version to screen."""

    file_id: str
    path: Path
    shown: str
    site_id: str | None
    table_name: str
    sha256: str
    bytes: int
    member: str = ""
    section: Section | None = None
    corrections: tuple[Correction, ...] = ()


@dataclass
class FileResult:
    """What screening found in one file."""

    file_id: str
    rows_read: int = 0
    lines_read: int = 0
    quarantined: int = 0
    skipped_lines: int = 0
    values_refused: int = 0
    accepted: int = 0
    refusal: str = ""
    ways: tuple[Way, ...] = ()
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    corrections: list[dict[str, object]] = field(default_factory=list)
    parts: dict[str, str] = field(default_factory=dict)


def model_of(table_name: str) -> type[Table]:
    """Return the contract of one exported or reference table."""
    return (EXPORTS | REFERENCE)[table_name]


def section_for(item: Work) -> Section:
    """Return how a file is mapped; without a mapping, by its table alone."""
    return item.section or Section(item.table_name, item.table_name)


def raw_work(item: Work) -> RawTable:
    """Read one file as text under its own column names.

    Raises:
        FileRefusedError: where its structure cannot be trusted, or it changed meanwhile.
    """
    return read.read_raw(_bytes(item), item.shown, *_form(item))


def _bytes(item: Work) -> bytes:
    data = read.read_bytes(item.path, item.shown, item.member)
    if item.sha256 and read.sha256(data) != item.sha256:
        raise FileRefusedError(
            f"{item.shown}: changed while it was being read",
            done="No row of this file was loaded.",
            todo="Run the command again when the export is complete.",
        )
    return data


def _form(item: Work) -> tuple[list[str], ReadOptions]:
    """Return the columns that must be there, and how the file is written."""
    section = section_for(item)
    implied = IMPLIED if item.site_id is not None else []
    specs = columns_of(model_of(item.table_name))
    expected = expected_columns(
        section, [s.name for s in specs if s.required and s.name not in implied]
    )
    return expected, replace(section.options, table_name=section.name)


def read_work(item: Work) -> tuple[TextTable, list[dict[str, object]]]:
    """Read one file as text by its table's contract, mapped and corrected.

    Returns:
        The table, and what became of each correction of its site and table.

    Raises:
        FileRefusedError: as `raw_work`, or where a value could be read in two ways.
    """
    return _mapped(item, raw_work(item))


def _mapped(item: Work, raw: RawTable) -> tuple[TextTable, list[dict[str, object]]]:
    model = model_of(item.table_name)
    specs = columns_of(model)
    table = map_table(raw, section_for(item), specs, item.shown, moment_of(model))
    return apply_corrections(table, item.corrections, specs)


@dataclass(frozen=True)
class Text:
    """Files of one batch as text.

    Attributes:
        rows: rows of all files with file_id and folder_site.
        broken: records with a wrong number of fields, with file_id.
        faults: cells that hold no value to trust, with file_id.
    """

    rows: pl.DataFrame
    broken: pl.DataFrame
    faults: pl.DataFrame


def read_batch(work: Sequence[Work], results: dict[str, FileResult]) -> list[Text]:
    """Read files of one table and take down what was read of each; refused ones give no rows.

    Args:
        work: the files.
        results: takes one result a file.
    """
    read_: list[Text] = []
    groups: dict[tuple[object, ...], list[tuple[Work, Opened]]] = {}
    alone: list[Work] = []
    for item in work:
        result = results[item.file_id] = FileResult(item.file_id)
        try:
            if not _may_join(item):
                alone.append(item)
                continue
            data = read.unpacked(_bytes(item), item.shown)
            file = opened(data, item.shown, *_form(item))
        except FileRefusedError as error:
            result.refusal, result.ways = str(error), error.ways
            continue
        if file.is_plain:
            key = (file.header_text, file.delimiter, tuple(file.header), item.section)
            groups.setdefault(tuple(map(repr, key)), []).append((item, file))
        else:
            read_ += _one(item, results, file.records)
    for own in groups.values():
        joined, others = _joined(own, results)
        read_ += joined
        for item, file in others:
            read_ += _one(item, results, file.records)
    for item in alone:
        read_ += _one(item, results, partial(raw_work, item))
    return read_


def _may_join(item: Work) -> bool:
    """Tell whether nothing of a file but its text and its rows decides how it is read."""
    section = section_for(item)
    return (
        not item.shown.lower().endswith(NO_TEXT)
        and not item.corrections
        and not (section.left or section.right)
        and all(len(own) == 1 for own in section.columns.values())
        and not any(_is_number_or_day(item, name) for name in section.values)
    )


def _is_number_or_day(item: Work, name: str) -> bool:
    spec = next(s for s in columns_of(model_of(item.table_name)) if s.name == name)
    return spec.dtype in (pl.Float64, pl.Int64) or written.is_dated(spec)


def _one(item: Work, results: dict[str, FileResult], raw: Callable[[], RawTable]) -> Iterator[Text]:
    """Read one file by itself."""
    result = results[item.file_id]
    try:
        table, result.corrections = _mapped(item, raw())
    except FileRefusedError as error:
        result.refusal, result.ways = str(error), error.ways
        return
    result.rows_read, result.lines_read = table.rows_read, table.lines_read
    result.skipped_lines = table.skipped_lines
    result.dropped, result.notes = table.dropped, table.notes
    file_id = pl.lit(item.file_id)
    yield Text(
        table.rows.with_columns(file_id=file_id, folder_site=pl.lit(item.site_id, dtype=pl.String)),
        table.broken.with_columns(file_id=file_id),
        table.faults.with_columns(file_id=file_id),
    )


def _joined(
    files: Sequence[tuple[Work, Opened]], results: dict[str, FileResult]
) -> tuple[list[Text], Sequence[tuple[Work, Opened]]]:
    """Read files of one header and mapping together.

    Returns:
        What was read, and the files that are to be read one by one.
    """
    if len(files) < FEWEST:
        return [], files
    cells = parsed_together([file for _, file in files])
    if cells is None:  # a record of one has more fields than its header
        return _halved(files, results)
    item, first = files[0]
    specs = columns_of(model_of(item.table_name))
    number = np.repeat(np.arange(len(files)), [file.lines for _, file in files])
    is_odd = oddities(cells) | _is_judged_whole(cells, section_for(item), specs)
    odd = set(number[is_odd.to_numpy()].tolist())
    others = [one for at, one in enumerate(files) if at in odd]
    kept = [one for at, one in enumerate(files) if at not in odd]
    if len(kept) < FEWEST:
        return [], files
    if odd:
        cells = cells.filter(~pl.Series(np.isin(number, list(odd))))
    # Lines are numbered through all files while the mapping is done, and told apart afterwards.
    through = pl.int_range(0, cells.height, dtype=pl.Int64, eager=True)
    raw = RawTable(
        first.header, cells, through, pl.DataFrame(schema=BROKEN), pl.DataFrame(schema=FAULTS), 0
    )
    try:
        table, _ = _mapped(item, raw)
    except FileRefusedError:  # a date of one is against the order that the mapping declares
        return _halved(files, results)
    for one, file in kept:
        result = results[one.file_id]
        result.rows_read = result.lines_read = file.lines
        result.dropped, result.notes = list(table.dropped), list(file.notes)
    origin = pl.concat(
        pl.select(
            own_line=pl.int_range(file.first, file.first + file.lines, dtype=pl.Int64),
            file_id=pl.lit(one.file_id),
            folder_site=pl.lit(one.site_id, dtype=pl.String),
        )
        for one, file in kept
    )
    rows, faults = _told_apart(table.rows, origin), _told_apart(table.faults, origin)
    broken = table.broken.with_columns(file_id=pl.lit(item.file_id))
    return [Text(rows, broken, faults.drop("folder_site"))], others


def _halved(
    files: Sequence[tuple[Work, Opened]], results: dict[str, FileResult]
) -> tuple[list[Text], Sequence[tuple[Work, Opened]]]:
    """Read files together in two halves, and so on, until what keeps them apart stands alone."""
    half = len(files) // 2
    halves = [_joined(own, results) for own in (files[:half], files[half:])]
    return [*halves[0][0], *halves[1][0]], [*halves[0][1], *halves[1][1]]


def _told_apart(rows: pl.DataFrame, origin: pl.DataFrame) -> pl.DataFrame:
    """Give rows numbered through all files their own file and line."""
    own = origin[rows[LINE]]
    return rows.with_columns(own["own_line"].alias(LINE), own["file_id"], own["folder_site"])


def _is_judged_whole(
    cells: pl.DataFrame, section: Section, specs: Sequence[ColumnSpec]
) -> pl.Series:
    """Tell the rows with a cell for which mapping may refuse a whole file."""
    kinds = {spec.name: spec for spec in specs}
    raw = RawTable(
        cells.columns,
        cells,
        pl.Series(),
        pl.DataFrame(schema=BROKEN),
        pl.DataFrame(schema=FAULTS),
        0,
    )
    signs: dict[str, pl.Expr] = {}
    for name, (own,) in own_columns(raw, section, specs)[1].items():
        cell = pl.col(own).str.strip_chars()
        if kinds[name].dtype in (pl.Float64, pl.Int64):
            sign = cell.str.contains(",", literal=True)
        elif written.is_dated(kinds[name]):
            sign = cell.str.contains(written.SERIAL_FORM) | cell.str.contains(written.OTHER_DATE)
        else:
            continue
        signs[own] = signs[own] | sign if own in signs else sign
    if not signs:
        return pl.repeat(value=False, n=cells.height, eager=True)
    told = read_each(cells.select(list(signs)), signs)
    is_judged = pl.any_horizontal(pl.all()).fill_null(value=False)
    return told.select(is_judged.alias("is_judged")).to_series()
