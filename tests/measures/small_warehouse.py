"""A warehouse of a few made rows, with the facts' declared columns."""

import tomllib
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import query_text
from pipeline.settings import Settings
from pipeline.warehouse import calibration
from pipeline.warehouse.connect import set_variables
from schemas import macros
from schemas.facts.catalogue import FACTS
from tests.measures.counted import counted, make

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "measures.toml").read_text())
TYPES = {
    pl.String: "VARCHAR", pl.Int64: "BIGINT", pl.Float64: "DOUBLE", pl.Boolean: "BOOLEAN",
    pl.Date: "DATE", pl.List: "VARCHAR[]", pl.Datetime: "TIMESTAMPTZ",
}  # fmt: skip
AUDIT = """
CREATE TABLE row_account (file_id VARCHAR, file VARCHAR, site_id VARCHAR, member VARCHAR,
    table_name VARCHAR, rows_read BIGINT, quarantined BIGINT, duplicate BIGINT,
    values_refused BIGINT, status VARCHAR, is_live BOOLEAN);
CREATE TABLE correction (site_id VARCHAR, line BIGINT, status VARCHAR);
CREATE TABLE quarantined_row (file_id VARCHAR, table_name VARCHAR, line BIGINT,
    part_of_line BIGINT DEFAULT 1, rule VARCHAR, row_json VARCHAR);
CREATE TABLE refused_value (file_id VARCHAR, table_name VARCHAR, line BIGINT,
    part_of_line BIGINT DEFAULT 1)
"""


def warehouse() -> duckdb.DuckDBPyConnection:
    """Return a database in memory with every fact's table, empty."""
    con = duckdb.connect(":memory:", config={"threads": 1})
    for name, table in FACTS.items():
        columns = [
            f'"{column}" {TYPES[spec.dtype.type.base_type()]}'
            for column, spec in table.to_schema().columns.items()
        ]
        con.execute(f"CREATE TABLE {name} ({', '.join(columns)})")
    con.execute(AUDIT)
    return con


def insert(con: duckdb.DuckDBPyConnection, table: str, rows: list[dict]) -> None:
    """Insert rows by column name; a row is the first of its line where nothing else is said."""
    frame = pl.DataFrame(rows, infer_schema_length=None)
    if "line" in frame.columns and "part_of_line" not in frame.columns:
        frame = frame.with_columns(part_of_line=pl.lit(1))
    con.register("made", frame.to_arrow())
    con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM made")
    con.unregister("made")


def needed(wanted: str) -> set[str]:
    """Return a measure's name and the names of all it rests on."""
    measure = next(m for m in MEASURES if m.name == wanted)
    return {wanted}.union(*(needed(name) for name in measure.needs))


def fit_lines(con: duckdb.DuckDBPyConnection) -> None:
    """Fill calibration_line from the dose checks as the warehouse does."""
    con.execute("CREATE OR REPLACE TEMP MACRO in_scope(site) AS true")
    for statement in macros.statements(11):
        con.execute(statement)
    con.execute("DELETE FROM calibration_line")
    calibration.fit_lines(con)


def run(
    con: duckdb.DuckDBPyConnection,
    settings: Settings | None = None,
    as_of: date = date(2026, 7, 1),
    *,
    wanted: str | Sequence[str] | None = None,
) -> dict[str, pl.DataFrame]:
    """Run every measure in order, or some with those they need, and return their tables."""
    chosen = [wanted] if isinstance(wanted, str) else wanted or [m.name for m in MEASURES]
    names = set[str]().union(*(needed(name) for name in chosen))
    set_variables(con, as_of, settings or Settings())
    fit_lines(con)
    found = {}
    for measure in (m for m in MEASURES if m.name in names):
        frame = measure.infer(counted(con, measure), settings or Settings())
        con.register("made", frame.to_arrow())
        con.execute(f"CREATE OR REPLACE TABLE {measure.name} AS FROM made")
        con.unregister("made")
        make(con, measure, measure.fills)
        for name in measure.fills:
            con.execute(query_text(name))
        found[measure.name] = frame
    return found
