"""List the rows and values that do not count, with their reasons."""

from collections.abc import Sequence

import duckdb
import polars as pl

from pipeline.warehouse import rules
from pipeline.warehouse.connect import insert, quoted, sql
from pipeline.warehouse.part_source import LivePart, rows_of
from pipeline.warehouse.part_views import PARTS
from pipeline.warehouse.passed import passed
from schemas.audit.quarantined_row import QuarantinedRow
from schemas.audit.refused_value import RefusedValue
from schemas.exports.catalogue import columns_of, moment_of

TEXT_COLUMNS = ("file_id", "rule", "column_name", "found", "row_json")
# Of a row that counts, what its session's rows disagree on follows from the other rows.
LISTS = {"quarantined_row": "", "refused_value": "AND rule = 'session_agrees'"}
SESSION_COLUMNS = {
    "site_id": "VARCHAR",
    "session_id": "VARCHAR",
    "dryer_id": "VARCHAR",
    "started_at": "TIMESTAMPTZ",
    "time_precision": "VARCHAR",
    "treatment": "VARCHAR",
}


def quarantined_rows(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    parts: Sequence[LivePart],
    *,
    is_narrow: bool = False,
) -> str:
    """Return a query of the rows that screening quarantined, what tells their session among it.

    Args:
        connection: takes temporary tables of the files.
        name: what tells these tables from others.
        parts: the files.
        is_narrow: what is wrong with the rows is left out.
    """
    kinds = dict.fromkeys(TEXT_COLUMNS, "VARCHAR") | {
        "line": "BIGINT",
        "part_of_line": "BIGINT",
        "table_name": "VARCHAR",
    }
    kinds |= SESSION_COLUMNS
    listed = ", ".join(f"NULL::{kind} AS {name}" for name, kind in kinds.items())
    query = f"SELECT {listed} WHERE false"
    narrow = ("file_id", "line", "part_of_line", "table_name", *SESSION_COLUMNS)
    wanted = ", ".join(narrow) if is_narrow else "*"
    for table in dict.fromkeys(part.table_name for part in parts):
        own = [(p.quarantine, p.file_id) for p in parts if p.table_name == table]
        if source := rows_of(connection, f"{table}_{name}", own):
            told = f"SELECT * REPLACE ({quoted(table)} AS table_name) FROM ({source})"
            query += f" UNION ALL BY NAME SELECT {wanted} FROM ({told})"
    return f"SELECT {', '.join(kinds)} FROM ({query})"


def make_quarantine(
    connection: duckdb.DuckDBPyConnection,
    listed: Sequence[LivePart],
    staying: Sequence[LivePart] = (),
) -> None:
    """Make the table of the rows that screening quarantined.

    Args:
        connection: takes it as `part_quarantine`.
        listed: files of which such rows are listed anew.
        staying: files of which they only count in their sessions.
    """
    told = _coded(quarantined_rows(connection, "quarantine", listed))
    query = f"SELECT *, true AS is_listed FROM ({told})"
    if staying:
        others = quarantined_rows(connection, "counted", staying, is_narrow=True)
        query += f" UNION ALL BY NAME SELECT *, false AS is_listed FROM ({others})"
    connection.execute(f"CREATE TEMP TABLE part_quarantine AS {query}")


def clear_lists(connection: duckdb.DuckDBPyConnection, staying: Sequence[LivePart] = ()) -> None:
    """Empty the lists of what is listed anew, and of files that count no more.

    Args:
        connection: holds `other_file`, and `picked` where some files stay.
        staying: session files of which only the verdicts on the rows picked are listed anew.
    """
    names = pl.DataFrame(
        {"file_id": [part.file_id for part in staying]}, schema={"file_id": pl.String}
    )
    connection.register("given_staying", names)
    kept = (
        "SELECT (file_id, table_name) FROM other_file"
        " UNION ALL SELECT (file_id, 'sessions') FROM given_staying"
    )
    for name in LISTS:
        connection.execute(f"DELETE FROM {name} WHERE (file_id, table_name) NOT IN ({kept})")
    connection.unregister("given_staying")
    for name, condition in LISTS.items() if staying else ():
        connection.execute(
            f"DELETE FROM {name} WHERE table_name = 'sessions' {condition}"
            " AND (file_id, line, part_of_line) IN"
            " (SELECT (file_id, line, part_of_line) FROM picked)"
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
