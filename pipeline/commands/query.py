"""`drytally query`: SQL on the published warehouse, read-only, fenced and bounded."""

import argparse
import csv
import io
import json
import sys
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from pipeline.errors import QueryError
from pipeline.store.layout import Store
from pipeline.warehouse.fence import Answer, fenced_query

SCHEMA_VERSION = 1
FORMULA = ("=", "+", "-", "@", "\t", "\r")
WIDEST = 60


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "sql", metavar="SQL", help="one SELECT, DESCRIBE, SHOW, SUMMARIZE or EXPLAIN"
    )
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )
    parser.add_argument(
        "--format",
        choices=("table", "csv", "json", "parquet"),
        default="table",
        help="form of the answer (table)",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="file for the answer")
    parser.add_argument(
        "--timeout", type=float, default=60.0, metavar="S", help="seconds allowed (60)"
    )


def run(given: argparse.Namespace) -> int:
    """Answer one query."""
    if given.timeout <= 0:
        raise QueryError("--timeout must be above 0 seconds")
    if given.format == "parquet" and given.out is None:
        raise QueryError("a Parquet answer needs --out FILE")
    answer = fenced_query(Store(given.store).warehouse, given.sql, timeout_s=given.timeout)
    if answer.is_cut:
        print(f"drytally: only the first {len(answer.rows)} rows are shown", file=sys.stderr)
    if given.format == "parquet":
        _write_parquet(answer, given.out)
        return 0
    text = {"table": as_table, "csv": as_csv, "json": as_json}[given.format](answer)
    if given.out is None:
        sys.stdout.write(text)
    else:
        given.out.write_text(text, encoding="utf-8")
    return 0


def as_table(answer: Answer) -> str:
    """Set an answer in aligned columns."""
    numeric = [any(mark in t for mark in ("INT", "DOUBLE", "DECIMAL")) for t in answer.types]
    cells = [[_short(value) for value in row] for row in answer.rows]
    widths = [
        max([len(name), *(len(row[i]) for row in cells)]) for i, name in enumerate(answer.names)
    ]

    def line(row: Sequence[str]) -> str:
        return "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        ).rstrip()

    rule = "  ".join("-" * width for width in widths)
    count = len(cells)
    told = f"({count} row{'' if count == 1 else 's'})"
    return "\n".join([line(answer.names), rule, *(line(row) for row in cells), told]) + "\n"


def _short(value: Any) -> str:
    if value is None:
        return ""
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = "".join(c if c.isprintable() else " " for c in text)
    return text if len(text) <= WIDEST else text[: WIDEST - 1] + "…"


def as_csv(answer: Answer) -> str:
    """Write an answer as CSV; text that a spreadsheet would run is made harmless."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([neutral(name) for name in answer.names])
    writer.writerows([neutral(value) for value in row] for row in answer.rows)
    return out.getvalue()


def neutral(value: Any) -> Any:
    """Put an apostrophe before text that starts like a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value


def as_json(answer: Answer) -> str:
    """Write an answer as JSON with names, types and rows."""
    columns = [
        {"name": name, "type": kind} for name, kind in zip(answer.names, answer.types, strict=True)
    ]
    content = {"schema_version": SCHEMA_VERSION, "columns": columns, "rows": answer.rows}
    return json.dumps(content, default=_plain, ensure_ascii=False, indent=1) + "\n"


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def _write_parquet(answer: Answer, out: Path) -> None:
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415

    columns = [list(column) for column in zip(*answer.rows, strict=True)] or [
        [] for _ in answer.names
    ]
    pq.write_table(pa.table(dict(zip(answer.names, columns, strict=True))), out)
