"""Read a sample of a clinic's export before anything is known of it: form, header, cells."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import polars as pl

from pipeline.errors import FileRefusedError
from pipeline.intake.headers import likeness, side_of, unit_of
from pipeline.intake.mapping_edit import Value
from pipeline.intake.names import FORMATS, PLAIN_TEXT, safe_name
from pipeline.intake.options import ReadOptions
from pipeline.intake.read import read_bytes, read_raw
from pipeline.intake.table import CANDIDATES, RawTable, joined_header, named, spread
from pipeline.intake.workbook import sheet_grid

LOOKED_AT, LIKE = 40, 0.6
MARK_NAMES = {"\t": "tab"}


@dataclass(frozen=True)
class Told:
    """A key of the mapping that the sample settles, with what shows it."""

    path: tuple[str, ...]
    value: Value
    evidence: str


@dataclass
class Sample:
    """One sample file as it can be read, and what of the mapping its form settles."""

    path: Path
    shown: str
    raw: RawTable
    options: ReadOptions
    told: list[Told] = field(default_factory=list)
    sheets: tuple[str, ...] = ()

    @property
    def header(self) -> list[str]:
        """The file's own columns."""
        return self.raw.header

    def cells(self, header: str) -> pl.Series:
        """Return the cells of one column that hold something, trimmed."""
        cells = self.raw.cells[header].str.strip_chars()
        return cells.filter(cells.is_not_null() & (cells != ""))


def read_sample(path: Path, site: str) -> Sample:
    """Read a sample; encoding, delimiter, banner and header are told by the file itself.

    Raises:
        FileRefusedError: where it cannot be read as a table in any of the known forms.
    """
    shown = f"{site}/{safe_name(path.name, None)}"
    data = read_bytes(path, shown)
    ending = path.name.lower()
    if ending.endswith(".xlsx"):
        return _of_workbook(path, shown, data)
    if ending.endswith((*FORMATS, ".gz")) and not ending.endswith(PLAIN_TEXT):
        return Sample(path, shown, read_raw(data, shown, [], ReadOptions()), ReadOptions())
    return _of_text(path, shown, data)


def _of_text(path: Path, shown: str, data: bytes) -> Sample:
    told: list[Told] = []
    encoding = None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
        told.append(Told(("encoding",), "utf-16", "the file starts with its mark"))
    else:
        try:
            data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            encoding = "cp1252"
            line = data.count(b"\n", 0, error.start) + 1
            told.append(Told(("encoding",), encoding, f"no UTF-8 in line {line}: see its accents"))
    lines = data.decode(encoding or "utf-8-sig", "replace").splitlines()[:LOOKED_AT]
    mark, evidence = _mark(lines)
    if mark != ",":
        told.append(Told(("delimiter",), MARK_NAMES.get(mark, mark), evidence))
    grid = list(csv.reader(lines, delimiter=mark, skipinitialspace=True))
    return _below(path, shown, data, grid, ReadOptions(delimiter=mark, encoding=encoding), told)


def _mark(lines: Sequence[str]) -> tuple[str, str]:
    full = [line for line in lines if line.strip()]
    counts = {m: [len(next(csv.reader([t], delimiter=m), [])) for t in full] for m in CANDIDATES}
    usual = {m: max(set(n), key=n.count) if n else 0 for m, n in counts.items()}
    steady = {m: usual[m] * counts[m].count(usual[m]) for m in CANDIDATES if usual[m] > 1}
    mark = max(steady, key=lambda m: steady[m]) if steady else ","
    same = counts[mark].count(usual[mark])
    return mark, f"{usual[mark]} columns in {same} of the first {len(full)} lines"


def _of_workbook(path: Path, shown: str, data: bytes) -> Sample:
    sheets, sheet, grid = sheet_grid(data, shown, None)
    told: list[Told] = []
    if sheet is None:
        grids = {name: sheet_grid(data, shown, name)[2] for name in sheets}
        scores = {name: max(map(_likeness, rows), default=0.0) for name, rows in grids.items()}
        sheet = max(scores, key=lambda name: scores[name])
        if scores[sheet] == 0:
            raise FileRefusedError(
                f"{shown}: none of its {len(sheets)} sheets has a header that is understood",
                todo="Keep the one sheet that holds the table.",
            )
        grid = grids[sheet]
        others = sum(score > 0.5 * scores[sheet] for score in scores.values()) - 1
        evidence = f"1 of {len(sheets)} sheets; {others} other like it"
        told.append(Told(("sheet",), sheet, evidence))
        return _below(path, shown, data, grid, ReadOptions(sheet=sheet), told, tuple(sheets))
    return _below(path, shown, data, grid, ReadOptions(), told)


def _likeness(row: Sequence[str]) -> float:
    """Return how much a row reads like a header."""
    names = [name.strip() for name in row if name and name.strip()]
    if len(names) < 3 or sum(bool(re.fullmatch(r"[\d.,:/ -]+", n)) for n in names) > len(names) / 4:
        return 0.0
    known = [max(likeness(side_of(unit_of(name)[0])[0]).values(), default=0.0) for name in names]
    return sum(score for score in known if score >= LIKE) + 0.05 * len(names)


def _below(
    path: Path,
    shown: str,
    data: bytes,
    grid: Sequence[Sequence[str]],
    options: ReadOptions,
    told: list[Told],
    sheets: tuple[str, ...] = (),
) -> Sample:
    """Find the header's row or rows, and read what lies below them."""
    scores = [_likeness(row) for row in grid[:LOOKED_AT]]
    if any(scores):
        at = max(range(len(scores)), key=lambda n: scores[n])
    else:
        width = max((len(row) for row in grid), default=0)
        at = next((n for n, row in enumerate(grid) if sum(map(bool, row)) > width / 2), 0)
    rows, evidence = 1, f"the header stands in row {at + 1}"
    last = [name.strip() for name in grid[at]] if grid else []
    given = [name for name in last if name]
    if at and (len(set(given)) < len(given) or _has_sides(grid[at - 1])):
        both = named(joined_header([spread(grid[at - 1]), last]))
        if len(set(both)) == len(both):
            rows = 2
            told.append(Told(("header_rows",), 2, "names are told apart by the row above them"))
            at -= 1
    if at:
        told.append(Told(("skip_lines",), at, evidence))
    options = replace(options, skip_lines=at, header_rows=rows)
    return Sample(path, shown, read_raw(data, shown, [], options), options, told, sheets)


def _has_sides(row: Sequence[str]) -> bool:
    """Tell whether a row is a banner that names the left and the right side."""
    words = {side_of(f"x {name}")[1] for name in row if name and name.strip()}
    return {"left", "right"} <= words or len(
        {s for n in row for s in ("left", "right") if side_of(n or "")[1] == s}
    ) == 2  # fmt: skip
