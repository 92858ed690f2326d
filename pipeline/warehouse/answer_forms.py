"""An answer in the forms that a query offers: an aligned table, CSV, JSON, Parquet."""

import csv
import json
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import IO, Any

import duckdb

from pipeline.errors import QueryError
from schemas.spreadsheet import neutralised

SCHEMA_VERSION = 1
WIDEST = 60
MOST_SHOWN = 10_000
ROWS_AT_ONCE = 2_000
EXPLAINED = ["explain_key", "explain_value"]


def write_table(result: duckdb.DuckDBPyConnection, out: IO[str]) -> list[str]:
    """Set an answer in aligned columns; returns what is to be said beside it."""
    names, types = _described(result)
    rows = result.fetchmany(MOST_SHOWN + 1)
    if names == EXPLAINED:
        out.write("".join(f"{value.rstrip()}\n" for _, value in rows))
        return []
    out.write(as_table(names, types, rows[:MOST_SHOWN]))
    if len(rows) <= MOST_SHOWN:
        return []
    return [f"only the first {MOST_SHOWN} rows are shown; --format csv gives all of them"]


def as_table(names: Sequence[str], types: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    """Return rows in aligned columns, numbers to the right."""
    numeric = [any(mark in kind for mark in ("INT", "DOUBLE", "DECIMAL")) for kind in types]
    cells = [[_short(value) for value in row] for row in rows]
    widths = [max([len(name), *(len(row[i]) for row in cells)]) for i, name in enumerate(names)]

    def line(row: Sequence[str]) -> str:
        return "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        ).rstrip()

    rule = "  ".join("-" * width for width in widths)
    told = f"({len(cells)} row{'' if len(cells) == 1 else 's'})"
    return "\n".join([line(names), rule, *(line(row) for row in cells), told]) + "\n"


def _short(value: Any) -> str:
    if value is None:
        return ""
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = "".join(c if c.isprintable() else " " for c in text[: WIDEST + 1])
    return text if len(text) <= WIDEST else text[: WIDEST - 1] + "…"


def write_csv(result: duckdb.DuckDBPyConnection, out: IO[str]) -> list[str]:
    """Write an answer as CSV; text that a spreadsheet would run is made harmless."""
    names, _ = _named_once(result)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([neutralised(name) for name in names])
    for rows in _pieces(result):
        writer.writerows([neutralised(value) for value in row] for row in rows)
    return []


def write_json(result: duckdb.DuckDBPyConnection, out: IO[str]) -> list[str]:
    """Write an answer as JSON with names, types and rows; no number that JSON does not know."""
    names, types = _named_once(result)
    columns = [{"name": name, "type": kind} for name, kind in zip(names, types, strict=True)]
    listed = json.dumps(columns, ensure_ascii=False)
    out.write(f'{{"schema_version": {SCHEMA_VERSION},\n "columns": {listed},\n "rows": [')
    lost, mark = 0, "\n"
    for rows in _pieces(result):
        for row in rows:
            values = [_plain(value) for value in row]
            lost += sum(_lost(value) for value in row)
            text = json.dumps(values, ensure_ascii=False, allow_nan=False)
            out.write(f"{mark}  {text}")
            mark = ",\n"
    out.write("\n ]}\n")
    return [f"{lost} values are no finite number; they are null in the JSON"] if lost else []


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def _lost(value: Any) -> int:
    if isinstance(value, float):
        return not math.isfinite(value)
    if isinstance(value, dict):
        return sum(map(_lost, value.values()))
    return sum(map(_lost, value)) if isinstance(value, list | tuple) else 0


def write_parquet(relation: duckdb.DuckDBPyRelation, out: IO[bytes]) -> list[str]:
    """Write an answer as Parquet with the engine's own types.

    Raises:
        QueryError: where a column has a type, or an integer a size, that Parquet cannot hold.
    """
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415

    _refuse_twice(relation.columns)
    for name, kind in zip(relation.columns, map(str, relation.types), strict=True):
        if kind.startswith(("BIT", "BIGNUM", "INTERVAL", "UNION", "VARIANT")):
            raise _unfit(f"column {name} of type {kind}")
    reader = relation.to_arrow_reader(ROWS_AT_ONCE)
    try:
        with pq.ParquetWriter(out, reader.schema) as writer:
            for batch in reader:
                batch.validate(full=True)
                writer.write_batch(batch)
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError) as error:
        raise _unfit("a value or a type that does not fit") from error
    return []


def _unfit(found: str) -> QueryError:
    return QueryError(
        "the answer cannot be written as Parquet",
        found=found,
        expected="integers of at most 38 digits, and no bit string, interval, union or variant",
        done="No file was written.",
        todo="Cast the column, as in CAST(x AS VARCHAR).",
    )


def _described(result: duckdb.DuckDBPyConnection) -> tuple[list[str], list[str]]:
    described = result.description or []
    return [column[0] for column in described], [str(column[1]) for column in described]


def _named_once(result: duckdb.DuckDBPyConnection) -> tuple[list[str], list[str]]:
    names, types = _described(result)
    _refuse_twice(names)
    return names, types


def _refuse_twice(names: Sequence[str]) -> None:
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise QueryError(
            f"the answer has the column '{twice[0]}' more than once",
            expected="names that differ, since readers of CSV, JSON and Parquet keep one of them",
            done="No file was written.",
            todo=f'Name them apart: SELECT a.{twice[0]} AS "{twice[0]}_a", ...',
        )


def _pieces(result: duckdb.DuckDBPyConnection) -> Iterator[list[tuple[Any, ...]]]:
    while rows := result.fetchmany(ROWS_AT_ONCE):
        yield rows
