"""Run one measure: its queries count, its function infers, its table is replaced."""

from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from pipeline.measures.measure import Measure, query_text
from pipeline.settings import Settings
from pipeline.warehouse.connect import create, insert, set_variables, writer


def run_measure(target: Path, measure: Measure, settings: Settings, as_of: date) -> int:
    """Compute one measure into the warehouse being built.

    Args:
        target: the warehouse, its facts and the measures it needs filled.
        measure: the measure.
        settings: the group's settings.
        as_of: the day from which ages are reckoned.

    Returns:
        The number of rows written.
    """
    with writer(target) as connection:
        set_variables(connection, as_of, settings)
        frame = measure.infer(counted(connection, measure), settings)
        create(connection, measure.schema)
        connection.register("inferred", frame)
        insert(connection, measure.schema, "SELECT * FROM inferred")
        connection.unregister("inferred")
        for name in measure.fills:
            connection.execute(query_text(name))
    return frame.height


def counted(connection: duckdb.DuckDBPyConnection, measure: Measure) -> dict[str, pl.DataFrame]:
    """Make what a measure's queries rest on, run them, and return their counts by name."""
    for name in measure.views:
        connection.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {query_text(name)}")
    for name in measure.temporary:
        connection.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {query_text(name)}")
    return {query: connection.sql(query_text(query)).pl() for query in measure.queries}
