"""Record the run and its settings in the warehouse."""

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import StoreError
from pipeline.settings import Settings, shown
from pipeline.warehouse.connect import create, insert, reader, writer
from schemas.audit.measure_run import MeasureRun
from schemas.audit.refresh_run import RefreshRun
from schemas.audit.setting import Setting
from schemas.measures.attention_item import AttentionItem

# A day is in the future from the second day after as_of on.
DUE = """
SELECT min(coalesce(
    try_cast(row_json ->> 'local_date' AS DATE),
    try_cast(row_json ->> 'occurred_on' AS DATE),
    try_cast(row_json ->> 'month' AS DATE)
)) - 1
FROM quarantined_row WHERE rule IN ('session_not_future', 'date_not_future')
"""
STAGES = ("choose", "screen", "build", "measure")


def write_run(target: Path, run: Mapping[str, Any], settings: Settings) -> None:
    """Add one row to `refresh_run` and replace `setting`.

    Args:
        target: the warehouse being built.
        run: the run's record, `seconds` by stage among it.
        settings: the settings in force.
    """
    row = {name: value for name, value in run.items() if name != "seconds"}
    row |= {f"{stage}_seconds": run["seconds"].get(stage) for stage in STAGES}
    default, now = Settings().flat(), settings.flat()
    chosen = pl.DataFrame(
        [
            {
                "name": name,
                "value": shown(value),
                "default_value": shown(default[name]),
                "is_changed": value != default[name],
            }
            for name, value in sorted(now.items())
        ]
    )
    with writer(target) as connection:
        tables = {name for (name,) in connection.sql("SHOW TABLES").fetchall()}
        if "refresh_run" not in tables:
            create(connection, RefreshRun)
        create(connection, Setting)
        connection.register("given_run", pl.DataFrame([row]))
        insert(connection, RefreshRun, "SELECT * FROM given_run")
        connection.register("given_setting", chosen)
        insert(connection, Setting, "SELECT * FROM given_setting")
        connection.unregister("given_run")
        connection.unregister("given_setting")


def first_due(target: Path) -> str:
    """Return the first day from which a row that waits for its day counts; empty without one.

    Args:
        target: the warehouse being built, its lists filled.
    """
    with writer(target) as connection:
        [(day,)] = connection.sql(DUE).fetchall()
    return day.isoformat() if day is not None else ""


def write_measures(
    target: Path, run_id: str, measured: Mapping[str, tuple[int, str | None]]
) -> None:
    """Replace `measure_run`.

    Args:
        target: the warehouse being built.
        run_id: the run.
        measured: rows, and None or the kind of error, by measure.
    """
    rows = [(name, run_id, rows, problem) for name, (rows, problem) in measured.items()]
    kinds = {"measure": pl.String, "run_id": pl.String, "rows": pl.Int64, "problem": pl.String}
    with writer(target) as connection:
        create(connection, MeasureRun)
        connection.register("given", pl.DataFrame(rows, schema=kinds, orient="row"))
        insert(connection, MeasureRun, "SELECT * FROM given")
        connection.unregister("given")


def date_items(target: Path, published: Path, run_id: str) -> None:
    """Fill `since_run` of each attention item: the run before's where it listed the item too.

    Args:
        target: the warehouse being built.
        published: the warehouse of the run before; need not be there, and says nothing where it
            is damaged.
        run_id: the run.
    """
    name = AttentionItem.Config.name
    kinds = {"item_id": pl.String, "since_run": pl.String}
    earlier = pl.DataFrame(schema=kinds)
    if published.exists():
        with suppress(StoreError), reader(published) as connection:
            tables = {table for (table,) in connection.sql("SHOW TABLES").fetchall()}
            if name in tables:
                earlier = connection.sql(f"SELECT item_id, since_run FROM {name}").pl()
    with writer(target) as connection:
        connection.register("given", earlier)
        connection.execute(
            f"UPDATE {name} SET since_run = coalesce("
            f"(SELECT since_run FROM given WHERE given.item_id = {name}.item_id), $1)",
            [run_id],
        )
        connection.unregister("given")
