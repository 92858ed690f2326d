"""Queries that read the rows of chosen files out of parts that hold rows of others too."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import polars as pl

from pipeline.warehouse.connect import quoted

WANTED = {"part": pl.String, "file_id": pl.String}


@dataclass(frozen=True)
class LivePart:
    """One live table of one file, and where its rows lie: with those of other files, or alone.

    `accepted`: its rows in `validated`, where that may hold rows of other files too.
    """

    file_id: str
    file: str
    site_id: str | None
    table_name: str
    logical_name: str
    sha256: str
    first_seen_sequence: int
    validated: Path | None
    quarantine: Path | None
    refused: Path | None
    is_rolling: bool = False
    accepted: int | None = None


def _read_of(paths: Collection[Path]) -> str:
    """Return the expression that reads parts, whatever columns each has."""
    listed = ", ".join(quoted(str(path)) for path in paths)
    return f"read_parquet([{listed}], union_by_name = true, filename = 'part')"


def rows_of(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    files: Sequence[tuple[Path | None, str]],
    *,
    is_read_once: bool = False,
) -> str:
    """Return a query of the rows of some files; empty where none of them has a part.

    Args:
        connection: takes a temporary table of the files, or of their rows.
        name: what tells this table from others.
        files: part and file_id of each; None: it has no such rows.
        is_read_once: their rows are kept in a table, for they are few and read again and again.
    """
    wanted = [(str(path), file_id) for path, file_id in files if path is not None]
    if not wanted:
        return ""
    connection.register("given_wanted", pl.DataFrame(wanted, schema=WANTED, orient="row"))
    connection.execute(f"CREATE OR REPLACE TEMP TABLE wanted_{name} AS FROM given_wanted")
    connection.unregister("given_wanted")
    paths = dict.fromkeys(path for path, _ in files if path is not None)
    query = f"FROM {_read_of(paths)} SEMI JOIN wanted_{name} USING (part, file_id)"
    if not is_read_once:
        return query
    connection.execute(f"CREATE OR REPLACE TEMP TABLE rows_of_{name} AS {query}")
    return f"FROM rows_of_{name}"


def chosen_rows(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    files: Sequence[tuple[Path | None, str]],
    chosen: str | None = None,
) -> str:
    """Return a query of some files' rows, of all or of those chosen; empty without a part.

    Args:
        connection: takes a temporary table of the files or of the rows chosen.
        name: what tells this table from others.
        files: part and file_id of each; None: it has no such rows.
        chosen: a query of file_id, line and part_of_line, of other files too; None: all rows.
    """
    source = rows_of(connection, name, files)
    if not source or chosen is None:
        return source
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE chosen_{name} AS"
        f" SELECT w.part, w.file_id, c.line, c.part_of_line FROM ({chosen}) AS c"
        f" JOIN wanted_{name} AS w ON w.file_id = c.file_id"
    )
    found = connection.execute(f"SELECT DISTINCT part FROM chosen_{name} ORDER BY part").fetchall()
    if not found:
        return ""
    paths = [Path(path) for (path,) in found]
    return (
        f"FROM {_read_of(paths)} SEMI JOIN chosen_{name} USING (part, file_id, line, part_of_line)"
    )


def _whole(
    connection: duckdb.DuckDBPyConnection, rows: Mapping[Path, int | None]
) -> frozenset[Path]:
    """Return the parts of which every row is wanted.

    Args:
        connection: any.
        rows: how many rows of each part are wanted; None: all, whatever it holds.
    """
    counted = [path for path, wanted in rows.items() if wanted is not None]
    held: dict[str, int] = {}
    if counted:
        listed = ", ".join(quoted(str(path)) for path in counted)
        held = dict(
            connection.execute(
                f"SELECT file_name, num_rows FROM parquet_file_metadata([{listed}])"
            ).fetchall()
        )
    return frozenset(
        path for path, wanted in rows.items() if wanted is None or held[str(path)] == wanted
    )


def _accepted_rows(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    files: Sequence[tuple[Path | None, str, int | None]],
    *,
    is_few: bool = False,
) -> str:
    """Return a query of the accepted rows of some files of one table; empty where there are none.

    Parts of which every row is wanted are read as they are.

    Args:
        connection: takes temporary tables.
        name: the table.
        files: part, file_id and accepted rows of each; None: the part holds no other file's.
        is_few: as `is_read_once` of `rows_of`.
    """
    rows: dict[Path, int | None] = {}
    for path, _, accepted in files:
        if path is not None:
            known = rows.get(path, 0)
            rows[path] = None if accepted is None or known is None else known + accepted
    full = _whole(connection, rows)
    others = [(path, file_id) for path, file_id, _ in files if path not in full]
    read = [f"FROM {_read_of([path for path in rows if path in full])}"] if full else []
    if mixed := rows_of(connection, name, others, is_read_once=is_few):
        read.append(mixed)
    return " UNION ALL BY NAME ".join(read)


def sources_of(
    connection: duckdb.DuckDBPyConnection,
    tables: Sequence[str],
    used: Sequence[LivePart],
    *,
    is_few: bool,
) -> dict[str, str]:
    """Return for each table the query that reads its accepted rows; empty without any.

    Args:
        connection: takes temporary tables.
        tables: names of the tables.
        used: the files of which rows are wanted.
        is_few: as `is_read_once` of `rows_of`.
    """
    return {
        table: _accepted_rows(
            connection, table,
            [(p.validated, p.file_id, p.accepted) for p in used if p.table_name == table],
            is_few=is_few,
        )
        for table in tables
    }  # fmt: skip
