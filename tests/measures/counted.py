"""Counts of a made warehouse: a measure's queries run whole, on one connection."""

from collections.abc import Sequence

import duckdb
import polars as pl

from pipeline.measures.measure import Measure, query_text
from pipeline.warehouse.carry import steps_of
from pipeline.warehouse.counting import handed


def counted(connection: duckdb.DuckDBPyConnection, measure: Measure) -> dict[str, pl.DataFrame]:
    """Make what a measure's queries rest on, run them whole, and return their counts by name."""
    make(connection, measure, measure.queries)
    return {query: handed(connection.sql(query_text(query)).pl()) for query in measure.queries}


def make(connection: duckdb.DuckDBPyConnection, measure: Measure, queries: Sequence[str]) -> None:
    """Make what some queries of a measure rest on: tables of the whole group, views, tables."""
    for name in measure.group_wide:
        if name in steps_of(measure, queries, is_group_wide_too=True):
            make(connection, measure, [name])
            _made(connection, "TABLE", name)
    steps = steps_of(measure, queries)
    for kind, names in (("VIEW", measure.views), ("TABLE", measure.temporary)):
        for name in (one for one in names if one in steps):
            _made(connection, kind, name)


def _made(connection: duckdb.DuckDBPyConnection, kind: str, name: str) -> None:
    connection.execute(f"CREATE OR REPLACE TEMP {kind} {name} AS {query_text(name)}")
