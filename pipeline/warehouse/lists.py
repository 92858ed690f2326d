"""List the rows and values that do not count, with their reasons."""

from collections.abc import Sequence

import duckdb

from pipeline.warehouse import rules
from pipeline.warehouse.connect import insert, quoted, sql
from pipeline.warehouse.part_source import LivePart, rows_of
from pipeline.warehouse.passed import passed
from schemas.audit.quarantined_row import QuarantinedRow
from schemas.audit.refused_value import RefusedValue
from schemas.declare import Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of, moment_of

PARTS: dict[str, type[Table]] = EXPORTS | REFERENCE
TEXT_COLUMNS = ("file_id", "rule", "column_name", "found", "row_json")
SESSION_COLUMNS = {
    "site_id": "VARCHAR",
    "session_id": "VARCHAR",
    "dryer_id": "VARCHAR",
    "started_at": "TIMESTAMPTZ",
    "time_precision": "VARCHAR",
    "treatment": "VARCHAR",
}


def view_quarantine(connection: duckdb.DuckDBPyConnection, used: Sequence[LivePart]) -> None:
    """Make a table of the rows that screening quarantined."""
    kinds = dict.fromkeys(TEXT_COLUMNS, "VARCHAR") | {
        "line": "BIGINT",
        "part_of_line": "BIGINT",
        "table_name": "VARCHAR",
    }
    kinds |= SESSION_COLUMNS
    listed = ", ".join(f"NULL::{kind} AS {name}" for name, kind in kinds.items())
    query = f"SELECT {listed} WHERE false"
    for table in dict.fromkeys(part.table_name for part in used):
        own = [(p.quarantine, p.file_id) for p in used if p.table_name == table]
        if source := rows_of(connection, f"{table}_quarantine", own):
            query += (
                f" UNION ALL BY NAME SELECT * REPLACE ({quoted(table)} AS table_name)"
                f" FROM ({source})"
            )
    connection.execute(
        f"CREATE TEMP TABLE part_quarantine AS SELECT {', '.join(kinds)} FROM ({_coded(query)})"
    )


def _coded(query: str) -> str:
    """Return refused rows with codes, where a part of an earlier version holds sentences."""
    return (
        f"SELECT q.* REPLACE (coalesce(c.rule, q.rule) AS rule) FROM ({query}) AS q"
        " LEFT JOIN contract_rule AS c ON c.table_name = q.table_name AND c.sentence = q.rule"
        " AND c.column_name IS NOT DISTINCT FROM q.column_name"
    )


def list_rows(connection: duckdb.DuckDBPyConnection, used: Sequence[LivePart]) -> None:
    """List quarantined and duplicate rows and refused values of the files in scope."""
    insert(connection, QuarantinedRow, sql("quarantined_row", verdicts=_verdicts()))
    connection.execute("CREATE TEMP TABLE session_conflict AS " + passed("session_conflict"))
    connection.execute("CREATE TEMP TABLE run_conflict AS " + passed("run_conflict"))
    kinds = ("file_id", "rule", "column_name", "found", "table_name")
    empty = ", ".join(f"NULL::VARCHAR AS {name}" for name in kinds)
    query = f"SELECT {empty}, NULL::BIGINT AS line, NULL::BIGINT AS part_of_line WHERE false"
    own = [(part.refused, part.file_id) for part in used]
    if source := rows_of(connection, "refused", own):
        query = f"SELECT {', '.join(kinds)}, line, part_of_line FROM ({source})"
    connection.execute(f"CREATE TEMP VIEW part_refused AS {_coded(query)}")
    insert(connection, RefusedValue, sql("refused_value"))


def _verdicts() -> str:
    """Return every set-rule verdict with the value found, and the row where it waits."""
    told = []
    for table, model in PARTS.items():
        columns = rules.column_of(table)
        cases = " ".join(f"WHEN {quoted(r)} THEN {quoted(c)}" for r, c in columns.items())
        own = {spec.name for spec in columns_of(model)} | {"local_date"}
        values = " ".join(
            f"WHEN {quoted(rule)} THEN p.{column}::VARCHAR"
            for rule, column in columns.items()
            if column in own and (column != "local_date" or moment_of(model))
        )
        found = f"CASE v.rule {values} END" if values else "NULL::VARCHAR"
        told.append(
            f"SELECT v.file_id, v.line, v.part_of_line, {quoted(table)} AS table_name, v.rule,"
            f" CASE v.rule {cases} END AS column_name, {found} AS found,"
            " CASE WHEN NOT is_duplicate(v.rule) THEN to_json(p)::VARCHAR END AS row_json"
            f" FROM verdict_{table} AS v"
            f" JOIN part_{table} AS p ON p.file_id = v.file_id AND p.line = v.line"
            " AND p.part_of_line = v.part_of_line"
        )
    return " UNION ALL ".join(told)
