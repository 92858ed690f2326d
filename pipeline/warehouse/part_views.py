"""Accepted rows of parts with every declared column, test boxes by the names they are shown by."""

from collections.abc import Iterable

import duckdb

from pipeline.warehouse.connect import columns, sql
from schemas.declare import Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, moment_of

PARTS: dict[str, type[Table]] = EXPORTS | REFERENCE
TEST_BOX = "test_box_id"
PLACE = {"file_id": "VARCHAR", "line": "BIGINT", "part_of_line": "BIGINT"}


def typed(table: str, source: str) -> str:
    """Return a query of a table's rows with every declared column, even of no file.

    Parts written before a column was declared hold it as null. Rests on `name_boxes`.
    """
    model = PARTS[table]
    kinds = columns(model) | PLACE
    if moment_of(model) is not None:
        kinds |= {"local_date": "DATE", "time_precision": "VARCHAR"}
    listed = ", ".join(f'NULL::{kind} AS "{name}"' for name, kind in kinds.items())
    query = f"SELECT {listed} WHERE false"
    if source:
        chosen = ", ".join(f'"{name}"::{kind} AS "{name}"' for name, kind in kinds.items())
        query = f"SELECT {chosen} FROM (FROM ({source}) UNION ALL BY NAME {query})"
    if TEST_BOX in kinds:
        query = (
            f"SELECT r.* REPLACE (coalesce(b.shown, r.{TEST_BOX}) AS {TEST_BOX})"
            f" FROM ({query}) AS r LEFT JOIN box_name AS b"
            f" ON b.site_id = r.site_id AND b.stored = r.{TEST_BOX}"
        )
    return query


def with_boxes() -> list[str]:
    """Return the tables whose rows name a test box."""
    return [table for table, model in PARTS.items() if TEST_BOX in columns(model)]


def boxes_named(sources: Iterable[str]) -> str:
    """Return a query that names test boxes that their site does not list, by their first use."""
    read = "SELECT NULL::VARCHAR AS site_id, NULL::VARCHAR AS stored, NULL::DATE AS day WHERE false"
    if own := [source for source in sources if source]:
        read = " UNION ALL ".join(
            f"SELECT site_id, {TEST_BOX}::VARCHAR AS stored, local_date AS day FROM ({source})"
            for source in own
        )
    return sql("box_name", read=read)


def name_boxes(connection: duckdb.DuckDBPyConnection, sources: Iterable[str]) -> None:
    """Make the table of the names of test boxes: box 1, 2 … of each site."""
    connection.execute(f"CREATE TEMP TABLE box_name AS {boxes_named(sources)}")
