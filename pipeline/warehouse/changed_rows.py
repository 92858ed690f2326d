"""What a run changed: rows of a corrected file, months of a file, items listed before and now."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from pipeline.errors import StoreError
from pipeline.warehouse.connect import MEMORY_LIMIT, create, insert, reader, sql, writer
from schemas.audit.refresh_change import RefreshChange

ORIGIN = ("file_id", "line", "part_of_line")
MOST_LINES = 12


@dataclass(frozen=True)
class ChangedRows:
    """Rows of a corrected file: how many changed or went, where, and in which months."""

    changed: int
    gone: int
    first_lines: tuple[int, ...]
    months: tuple[str, ...]


def compare_parts(earlier: tuple[Path, str], now: tuple[Path, str]) -> ChangedRows:
    """Compare the accepted rows of two versions of a file, whole and in any order.

    Args:
        earlier: the validated part with the version that was live, and its file_id.
        now: those of the version that replaces it.
    """
    with duckdb.connect(config={"memory_limit": MEMORY_LIMIT}) as connection:
        names = [_columns(connection, part) for part, _ in (earlier, now)]
        same = [name for name in names[0] if name in names[1] and name not in ORIGIN]
        month = "local_date" if "local_date" in same else "NULL::DATE"
        told = ", ".join(f'"{name}"' for name in same)
        given = {"columns": told, "month": month}
        rows = connection.execute(
            sql("changed_rows", **given),
            {
                "earlier": str(earlier[0]), "earlier_id": earlier[1],
                "now": str(now[0]), "now_id": now[1],
            },
        ).fetchall()  # fmt: skip
    changed = [row for row in rows if row[0]]
    lines = sorted({line for _, line, _ in changed})
    months = sorted({f"{day:%Y-%m}" for *_, day in rows if day is not None})
    return ChangedRows(
        len(changed), len(rows) - len(changed), tuple(lines[:MOST_LINES]), tuple(months)
    )


def _columns(connection: duckdb.DuckDBPyConnection, part: Path) -> list[str]:
    described = connection.execute("DESCRIBE SELECT * FROM read_parquet($1)", [str(part)])
    return [row[0] for row in described.fetchall()]


def file_days(target: Path, files: Mapping[str, str]) -> dict[str, tuple[date, date]]:
    """Return first and newest local day of the sessions of files of a warehouse.

    Args:
        target: the warehouse being built.
        files: site by file_id of the files asked for.
    """
    if not files:
        return {}
    with writer(target) as connection:
        found = connection.execute(
            "SELECT file_id, min(local_date), max(local_date) FROM session_aid"
            " WHERE site_id IN (SELECT unnest($sites)) AND file_id IN (SELECT unnest($files))"
            " GROUP BY file_id",
            {"sites": sorted(set(files.values())), "files": sorted(files)},
        ).fetchall()
    return {file_id: (first, last) for file_id, first, last in found}


def newest_days(published: Path) -> dict[str, date]:
    """Return the newest local day of each clinic in a published warehouse; none if damaged."""
    with suppress(StoreError), reader(published) as connection:
        found = connection.sql(
            "SELECT site_id, last_local_date FROM site WHERE last_local_date IS NOT NULL"
        ).fetchall()
        return dict(found)
    return {}


def items_changed(published: Path, target: Path) -> list[dict[str, Any]]:
    """Return the attention items that one warehouse lists and the other does not.

    Returns:
        is_new, site_id, subject, item_kind, severity, words; nothing where a list is missing or
        the published warehouse is damaged.
    """
    shown = "SELECT item_id, site_id, subject, item_kind, severity, words FROM attention_item"
    before: pl.DataFrame | None = None
    with suppress(StoreError), reader(published) as connection:
        before = connection.sql(shown).pl() if _is_listed(connection) else None
    if before is None:
        return []
    with writer(target) as connection:
        if not _is_listed(connection):
            return []
        now = connection.sql(shown).pl()
    new = now.join(before, on="item_id", how="anti").with_columns(is_new=pl.lit(value=True))
    old = before.join(now, on="item_id", how="anti").with_columns(is_new=pl.lit(value=False))
    both: list[dict[str, Any]] = pl.concat([new, old]).drop("item_id").to_dicts()
    return both


def _is_listed(connection: duckdb.DuckDBPyConnection) -> bool:
    return ("attention_item",) in connection.sql("SHOW TABLES").fetchall()


def write_changes(target: Path, changes: Sequence[dict[str, Any]]) -> None:
    """Replace `refresh_change` in the warehouse being built."""
    kinds = {name: c.dtype.type for name, c in RefreshChange.to_schema().columns.items()}
    with writer(target) as connection:
        create(connection, RefreshChange)
        connection.register("given", pl.DataFrame(changes, schema=kinds))
        insert(connection, RefreshChange, "SELECT * FROM given")
        connection.unregister("given")
