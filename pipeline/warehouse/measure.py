"""Run one measure: its queries count, its function infers, its table is replaced."""

from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from pipeline.errors import DrytallyError
from pipeline.measures.measure import Measure, query_text
from pipeline.settings import Settings
from pipeline.warehouse.connect import UNWRITABLE, create, insert, set_variables, writer

# Faults of the machine, not of a measure: these stop the run.
STOPPING = (DrytallyError, OSError, MemoryError, duckdb.OutOfMemoryException, *UNWRITABLE)


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


def attempt_measure(
    target: Path, measure: Measure, settings: Settings, as_of: date
) -> tuple[int, str | None]:
    """Compute one measure, or leave its table empty where it fails; see `run_measure`.

    Returns:
        The number of rows written, and None or the kind of error that kept it from being computed:
        never its words, which may hold a value.

    Raises:
        DrytallyError: where the machine is at fault: a full disk, too little memory, damage.
    """
    try:
        return run_measure(target, measure, settings, as_of), None
    except STOPPING:
        raise
    except Exception as error:  # a defect of one measure: the others must not go with it
        with writer(target) as connection:
            create(connection, measure.schema)
        return 0, type(error).__name__


def counted(connection: duckdb.DuckDBPyConnection, measure: Measure) -> dict[str, pl.DataFrame]:
    """Make what a measure's queries rest on, run them, and return their counts by name."""
    for name in measure.views:
        connection.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {query_text(name)}")
    for name in measure.temporary:
        connection.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {query_text(name)}")
    return {query: connection.sql(query_text(query)).pl() for query in measure.queries}
