"""Run one measure: its queries count, its function infers, its table is replaced or taken over."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import duckdb

from pipeline.errors import DrytallyError
from pipeline.measures.measure import Measure
from pipeline.settings import Settings
from pipeline.warehouse.carry import (
    Carried,
    counts_digest,
    filled_columns,
    inputs_digest,
    take_over,
)
from pipeline.warehouse.connect import UNWRITABLE, create, insert, set_variables, writer
from pipeline.warehouse.counting import Counting
from pipeline.warehouse.table_sums import Tables

# Faults of the machine, not of a measure: these stop the run.
STOPPING = (DrytallyError, OSError, MemoryError, duckdb.OutOfMemoryException, *UNWRITABLE)


@dataclass(frozen=True)
class Setting:
    """What all measures of one run share.

    Attributes:
        target: the warehouse being built, its facts filled.
        settings: the group's settings.
        as_of: the day from which ages are reckoned.
        run_id: the run.
        tables: hashes of the warehouse's tables; None: nothing is hashed.
        published: the published warehouse, where its measures may be taken over.
        is_copy: the warehouse being built began as a copy of it.
        counting: counts what the measures need, each thing once; None: one is made a measure.
    """

    target: Path
    settings: Settings
    as_of: date
    run_id: str = ""
    tables: Tables | None = None
    published: Path | None = None
    is_copy: bool = False
    counting: Counting | None = None


@dataclass(frozen=True)
class Measured:
    """What became of one measure: rows, the kind of error if it failed, hashes and run."""

    rows: int
    problem: str | None
    carried: Carried


def run_measure(
    given: Setting, measure: Measure, earlier: Carried | None = None, later: Collection[str] = ()
) -> Measured:
    """Compute one measure into the warehouse being built, or take it over where nothing changed.

    Args:
        given: what all measures share; the measures that this one needs are filled.
        measure: the measure.
        earlier: the hashes of the published warehouse's, and its run.
        later: names of this measure and those that run after it.
    """
    tables, digest = given.tables, given.settings.digest
    known = earlier if earlier is not None and given.published is not None else None
    with writer(given.target) as connection:
        set_variables(connection, given.as_of, given.settings)
        counting = given.counting or Counting(
            connection, given.as_of, given.settings, tables or Tables()
        )
        inputs = counts = ""
        if tables is not None:
            inputs = inputs_digest(connection, measure, tables, later, digest, given.as_of)
            if known is not None and known.inputs == inputs:
                found = _taken_over(connection, given, counting, measure, known, later)
                if found is not None:
                    return found
        frames = counting.counts(measure, later)
        if tables is not None:
            counts = counts_digest(connection, frames, digest)
            if known is not None and known.counts == counts:
                known = replace(known, inputs=inputs)
                found = _taken_over(connection, given, counting, measure, known, later)
                if found is not None:
                    return found
        frame = measure.infer(frames, given.settings)
        create(connection, measure.schema)
        connection.register("inferred", frame)
        insert(connection, measure.schema, "SELECT * FROM inferred")
        connection.unregister("inferred")
        _fill(given, counting, measure, later)
    return Measured(frame.height, None, Carried(inputs, counts, given.run_id))


def _taken_over(
    connection: duckdb.DuckDBPyConnection, given: Setting, counting: Counting, measure: Measure,
    known: Carried, later: Collection[str],
) -> Measured | None:  # fmt: skip
    published = given.published
    if published is None:
        return None
    rows = take_over(connection, published, measure, is_copy=given.is_copy)
    if rows is None:
        return None
    _fill(given, counting, measure, later)
    return Measured(rows, None, known)


def _fill(given: Setting, counting: Counting, measure: Measure, later: Collection[str]) -> None:
    """Fill the columns of facts that follow from a measure, where they are not filled alike."""
    table = str(measure.schema.Config.name)
    counting.tables.written(table, ())
    not_yet = [name for name in later if name != table]
    filled: frozenset[str] | None = frozenset()
    for name in measure.fills:
        sites = counting.fill(measure, name, not_yet, is_copy=given.is_copy)
        filled = None if filled is None or sites is None else filled | sites
    counting.tables.written(table, filled_columns([measure]), sites=filled)


def attempt_measure(
    given: Setting, measure: Measure, earlier: Carried | None = None, later: Collection[str] = ()
) -> Measured:
    """Compute one measure, or leave its table empty where it fails; see `run_measure`.

    Returns:
        The rows written, and the kind of error that kept it from being computed: never its words,
        which may hold a value.

    Raises:
        DrytallyError: where the machine is at fault: a full disk, too little memory, damage.
    """
    try:
        return run_measure(given, measure, earlier, later)
    except STOPPING:
        raise
    except Exception as error:  # a defect of one measure: the others must not go with it
        with writer(given.target) as connection:
            create(connection, measure.schema)
        if given.tables is not None:
            given.tables.written(str(measure.schema.Config.name), ())
        return Measured(0, type(error).__name__, Carried())
