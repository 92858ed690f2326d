"""The recorded plan as facts: of all facts the only ones that move with the day alone."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from pipeline.settings import Settings
from pipeline.warehouse.connect import insert, set_variables, writer
from schemas.facts.catalogue import FACTS

PLAN = "comparison_plan"
Rows = Sequence[Mapping[str, object]]


def load_plan(connection: duckdb.DuckDBPyConnection, plan: Rows) -> None:
    """Fill the plan's table, which is empty.

    Args:
        connection: to the warehouse being built, the run's day among its variables.
        plan: its rows as plain values, days as ISO text; none without a plan.
    """
    if plan:
        connection.register("given_plan", pl.DataFrame(list(plan)).to_arrow())
        # What a measure needs of the day stands in the plan: on other days it need not count.
        begun = "starts_on::DATE <= getvariable('as_of') AS is_begun"
        insert(connection, FACTS[PLAN], f"SELECT *, {begun} FROM given_plan")
        connection.unregister("given_plan")


def move_day(target: Path, as_of: date, settings: Settings, plan: Rows) -> None:
    """Give a copy of the published warehouse, of which no file changed, the facts of another day.

    Reference tables stay as they lie too: a changed file of theirs is a whole build, and so is a
    row of theirs whose day has come; code, contract and settings are those of the copy.
    """
    with writer(target) as connection:
        set_variables(connection, as_of, settings)
        connection.execute(f"DELETE FROM {PLAN}")
        load_plan(connection, plan)
