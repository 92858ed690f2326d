"""Write parts as screening leaves them, straight from frames, for the warehouse's tests."""

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from pipeline.settings import Settings
from pipeline.warehouse.build import PARTS, build_warehouse
from pipeline.warehouse.part_source import LivePart
from schemas.exports.catalogue import moment_of

AS_OF = date(2026, 7, 1)
SITE = {
    "site_id": "site-a", "site_name": "Made Up", "latitude": 51.0, "longitude": 0.0,
    "elevation_m": 10.0, "time_zone": "UTC", "opened_on": date(2015, 1, 1),
}  # fmt: skip
DRYER = {"site_id": "site-a", "dryer_id": "D1", "detection_limit_ul": 0.5}
SESSION = {
    "site_id": "site-a", "session_id": "S1", "device_id": "A1", "patient_id": "W1",
    "treatment": "dried", "dryer_id": "D1", "ear": "left", "device_style": "ric",
    "condition_before": "dead", "started_at": datetime(2026, 3, 10, 9, tzinfo=UTC),
}  # fmt: skip
TEXT_KEY = dict.fromkeys(
    ("site_id", "session_id", "dryer_id", "time_precision", "treatment"), pl.String
)
QUARANTINE = {
    "file_id": pl.String, "line": pl.Int64, "part_of_line": pl.Int64,
    "table_name": pl.String, "rule": pl.String, "column_name": pl.String,
    "found": pl.String, "advice": pl.String, "row_json": pl.String,
    "started_at": pl.Datetime("us", "UTC"), **TEXT_KEY,
}  # fmt: skip


def at(day: str, hour: int = 9) -> datetime:
    return datetime.fromisoformat(day).replace(hour=hour, tzinfo=UTC)


def session(**changes: Any) -> dict[str, Any]:
    return SESSION | changes


def part(
    folder: Path,
    table: str,
    rows: list[dict[str, Any]],
    *,
    name: str = "",
    site_id: str | None = None,
    seen: int = 1,
    quarantined: list[dict[str, Any]] | None = None,
) -> LivePart:
    """Write one file's accepted and quarantined rows; lines number from 2 in the order given."""
    model = PARTS[table]
    schema: dict[str, Any] = {n: c.dtype.type for n, c in model.to_schema().columns.items()}
    extra: dict[str, Any] = {"file_id": pl.String, "line": pl.Int64, "part_of_line": pl.Int64}
    moment = moment_of(model)
    if moment is not None:
        extra |= {"local_date": pl.Date, "time_precision": pl.String}
    file = name or f"{site_id or 'reference'}/{table}"
    file_id = file.replace("/", "-")
    full = []
    for line, row in enumerate(rows, start=2):
        local = {"local_date": row[moment].date(), "time_precision": "instant"} if moment else {}
        full.append({"file_id": file_id, "line": line, "part_of_line": 1} | local | row)
    validated = folder / f"{file_id}.parquet"
    pl.DataFrame(full, schema=schema | extra).write_parquet(validated)
    quarantine = None
    if quarantined:
        told = [
            {"file_id": file_id, "line": 900 + i, "part_of_line": 1} | row
            for i, row in enumerate(quarantined)
        ]
        quarantine = folder / f"{file_id}-quarantine.parquet"
        pl.DataFrame(told, schema=QUARANTINE).write_parquet(quarantine)
    return LivePart(
        file_id=file_id, file=file, site_id=site_id, table_name=table, logical_name=file,
        sha256="0", first_seen_sequence=seen, validated=validated, quarantine=quarantine,
        refused=None,
    )  # fmt: skip


def group(
    folder: Path,
    rows: list[dict[str, Any]],
    *,
    sites: list[dict[str, Any]] | None = None,
    dryers: list[dict[str, Any]] | None = None,
    quarantined: list[dict[str, Any]] | None = None,
    **others: list[dict[str, Any]],
) -> list[LivePart]:
    """Return the parts of one clinic's sessions with their reference tables."""
    site = rows[0]["site_id"] if rows else "site-a"
    return [
        part(folder, "sites", sites or [SITE]),
        part(folder, "dryers", dryers or [DRYER]),
        part(folder, "sessions", rows, site_id=site, quarantined=quarantined),
        *(part(folder, table, own, site_id=site) for table, own in others.items()),
    ]


def build(folder: Path, parts: list[LivePart], *, name: str = "w", **settings: Any) -> Path:
    target = folder / f"{name}.duckdb"
    target.unlink(missing_ok=True)
    build_warehouse(target, parts, as_of=AS_OF, settings=replace(Settings(), **settings))
    return target


def ask(warehouse: Path, sql: str) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        connection.execute("SET TimeZone = 'UTC'")
        return connection.execute(sql).fetchall()
