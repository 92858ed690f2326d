"""Record the run and its settings in the warehouse."""

from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import StoreError
from pipeline.settings import Settings, shown
from pipeline.warehouse.connect import create, insert, reader, writer
from pipeline.warehouse.measure import Measured
from schemas.audit.measure_run import MeasureRun
from schemas.audit.refresh_run import RefreshRun
from schemas.audit.setting import Setting
from schemas.measures.attention_item import AttentionItem

# A day is in the future from the second day after as_of on.
DUE_ON = """coalesce(
    try_cast(row_json ->> 'local_date' AS DATE),
    try_cast(row_json ->> 'occurred_on' AS DATE),
    try_cast(row_json ->> 'month' AS DATE)
) - 1"""
WAITING = "FROM quarantined_row WHERE rule IN ('session_not_future', 'date_not_future')"
DUE = f"SELECT min({DUE_ON}) {WAITING}"
SITES_DUE = f"""
SELECT DISTINCT coalesce(f.site_id, '')
FROM (SELECT file_id, {DUE_ON} AS due_on {WAITING}) AS w LEFT JOIN export_file AS f USING (file_id)
WHERE w.due_on <= ?
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


def sites_due(published: Path, as_of: date) -> frozenset[str]:
    """Return the sites of which rows count from a day on that their day alone refused before.

    Args:
        published: the warehouse of the run before.
        as_of: the day.

    Returns:
        Site ids; an empty one where a reference table is concerned.
    """
    with reader(published) as connection:
        found = connection.execute(SITES_DUE, [as_of]).fetchall()
    return frozenset(site for (site,) in found)


def first_due(target: Path) -> str:
    """Return the first day from which a row that waits for its day counts; empty without one.

    Args:
        target: the warehouse being built, its lists filled.
    """
    with writer(target) as connection:
        [(day,)] = connection.sql(DUE).fetchall()
    return day.isoformat() if day is not None else ""


def write_measures(target: Path, run_id: str, measured: Mapping[str, Measured]) -> None:
    """Replace `measure_run`.

    Args:
        target: the warehouse being built.
        run_id: the run.
        measured: what became of each measure: computed in this run, or taken over from one before.
    """
    rows = [
        (name, one.carried.run_id or run_id, one.rows, one.problem)
        for name, one in measured.items()
    ]
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
