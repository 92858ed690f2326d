"""Reviewed fixes of single values, written by the site in clear ids and canonical units.

Applied after the mapping and before identifiers are hashed. A match names the moment or session
of a row and what tells its aid, so that it fits the same row in every export that repeats it.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from pipeline.errors import MappingError
from pipeline.intake.mapping import CORRECTIONS, meant
from pipeline.intake.plain_file import no_plain_file, read_plain
from pipeline.intake.table import TextTable
from schemas.exports.catalogue import ColumnSpec

COLUMNS = ("match", "column", "value", "reason", "decided_by")
APPLIED, NONE, SEVERAL = "applied", "no_row_matches", "several_rows_match"
MOMENTS = {
    "sessions": ("started_at", "session_id"),
    "chamber_runs": ("started_at", "session_id"),
    "dose_checks": ("checked_at",),
    "repeat_measurements": ("measured_at",),
    "service_events": ("occurred_on",),
    "visit_counts": ("month",),
}
# Words of a role or a reason; anything that could be a name or a number is stored as its shape.
PLAIN_WORDS = re.compile(r"[a-zäöüßéèêçñåøæ][a-zäöüßéèêçñåøæ ,;_-]{0,79}")


@dataclass(frozen=True)
class Correction:
    """One line of `corrections.csv`: a value to put in the one row that matches."""

    line: int
    table: str
    match: tuple[tuple[str, str], ...]
    column: str
    value: str | None
    reason: str
    decided_by: str

    def record(self, status: str, rows: int) -> dict[str, object]:
        """Return what may be stored of it: no identifier, and words only if they are plain."""
        return {
            "line": self.line,
            "table_name": self.table,
            "column_name": self.column,
            "match_columns": ";".join(name for name, _ in self.match),
            "reason": _shown(self.reason),
            "decided_by": _shown(self.decided_by),
            "status": status,
            "rows_matched": rows,
        }


def _shown(text: str) -> str:
    return text if PLAIN_WORDS.fullmatch(text) else f"text, {len(text)} characters"


def read_corrections(
    folder: Path, site: str, columns: Mapping[str, Sequence[str]]
) -> tuple[Correction, ...]:
    """Read the corrections of one site's folder; none where there is no such file.

    Args:
        folder: the site's folder.
        site: its id, for messages.
        columns: contract columns by table.

    Raises:
        MappingError: with the line that cannot be used.
    """
    file, where = folder / CORRECTIONS, f"{site}/{CORRECTIONS}"
    if not file.exists() and not file.is_symlink():
        return ()
    if kind := no_plain_file(file):
        raise MappingError(f"{where}: is {kind}", todo="Put the file itself there.")
    try:
        text = read_plain(file).decode("utf-8-sig")
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        header = [name.strip() for name in reader.fieldnames or ()]
        reader.fieldnames = header
        if not set(COLUMNS) <= set(header) or not set(header) <= {*COLUMNS, "table"}:
            raise MappingError(
                f"{where}, line 1: its header is not that of corrections",
                expected=f"{', '.join(COLUMNS)}, and table where it is not sessions",
            )
        return tuple(
            _correction(row, f"{where}, line {reader.line_num}", reader.line_num, columns)
            for row in reader
        )
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MappingError(
            f"{where}: cannot be read as CSV in UTF-8 ({type(error).__name__})",
            done="No file of this site was read.",
        ) from error


def _correction(
    row: dict[str, str | None], where: str, line: int, columns: Mapping[str, Sequence[str]]
) -> Correction:
    if None in row or any(value is None for value in row.values()):
        raise MappingError(f"{where}: has another number of fields than the header")
    given = {name: (value or "").strip() for name, value in row.items()}
    table = given.get("table") or "sessions"
    if table not in columns:
        raise MappingError(f"{where}: '{table}' is no table", expected=", ".join(columns))
    pairs = [pair.partition("=") for pair in given["match"].split(";") if pair.strip()]
    match = tuple((name.strip(), value.strip()) for name, _, value in pairs)
    for name in [name for name, _ in match] + [given["column"]]:
        if name not in columns[table]:
            raise MappingError(
                f"{where}: '{name}' is no column of {table}", todo=meant(name, columns[table])
            )
    named = {name for name, value in match if value}
    moments = MOMENTS.get(table, ())
    if len(named) != len(match) or not named or (moments and not named & set(moments)):
        raise MappingError(
            f"{where}: match does not tell one row",
            expected="columns and values such as started_at=2026-03-10T09:00; device_id=A1",
            todo=f"Name {' or '.join(moments)} in it." if moments else None,
        )
    if given["column"] == "site_id":
        raise MappingError(f"{where}: site_id is the folder's; move the file instead")
    for name in ("reason", "decided_by"):
        if not given[name]:
            raise MappingError(f"{where}: {name} is empty", expected="a few plain words")
    return Correction(
        line, table, match, given["column"], given["value"] or None, given["reason"],
        given["decided_by"],
    )  # fmt: skip


def apply_corrections(
    table: TextTable, corrections: Sequence[Correction], specs: Sequence[ColumnSpec]
) -> tuple[TextTable, list[dict[str, object]]]:
    """Put each correction's value where it matches exactly one row of the file.

    Returns:
        The table, and a record of every correction of its table.
    """
    rows, records = table.rows, []
    kinds = {spec.name: spec.dtype for spec in specs}
    faults = table.faults
    matched = [
        rows.with_row_index("_at").filter(_fits(rows, item, kinds))["_at"].to_list()
        for item in corrections
    ]
    for item, at in zip(corrections, matched, strict=True):
        status = APPLIED if len(at) == 1 else SEVERAL if at else NONE
        records.append(item.record(status, len(at)))
        if status != APPLIED:
            continue
        if item.column not in rows.columns:
            rows = rows.with_columns(pl.lit(None, dtype=pl.String).alias(item.column))
        here = pl.int_range(pl.len()) == at[0]
        rows = rows.with_columns(
            pl.when(here)
            .then(pl.lit(item.value, dtype=pl.String))
            .otherwise(item.column)
            .alias(item.column)
        )
        line, part = rows.select("line", "part_of_line").row(at[0])
        own = (pl.col("line") == line) & (pl.col("part_of_line") == part)
        faults = faults.filter(~(own & (pl.col("column_name") == item.column)))
    return replace(table, rows=rows, faults=faults), records


def _fits(rows: pl.DataFrame, item: Correction, kinds: dict[str, object]) -> pl.Expr:
    """Tell the rows whose cells are those of the match, moments and numbers by value."""
    tests = []
    for name, value in item.match:
        if name not in rows.columns:
            return pl.lit(value=False)
        cell = pl.col(name)
        if kinds[name] in (pl.Float64, pl.Int64):
            wanted = pl.lit(value).cast(pl.Float64, strict=False)
            tests.append(cell.cast(pl.Float64, strict=False) == wanted)
        else:
            tests.append(_moment(cell) == _moment(pl.lit(value)))
    return pl.all_horizontal(tests).fill_null(value=False)


def _moment(text: pl.Expr) -> pl.Expr:
    return text.str.replace(r"^(\d{4}-\d{2}-\d{2}) ", "${1}T").str.replace(
        r"^(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}):00$", "$1"
    )
