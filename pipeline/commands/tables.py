"""`drytally tables`: the data dictionary of the warehouse, and numbered example queries."""

import argparse
import json
from importlib.resources import files
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.store.layout import Store
from pipeline.warehouse.fence import fenced_query

SCHEMA_VERSION = 1
TABLES = """
SELECT table_name AS "table", comment AS description FROM duckdb_tables()
WHERE NOT internal AND comment IS NOT NULL ORDER BY 1
"""
ABOUT = """
SELECT comment FROM duckdb_tables() WHERE table_name = $1 AND NOT internal
UNION ALL
SELECT comment FROM duckdb_views() WHERE view_name = $1 AND NOT internal
"""
COLUMNS = """
SELECT column_name AS "column", data_type AS type, comment AS description
FROM duckdb_columns() WHERE table_name = ? AND NOT internal ORDER BY column_index
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="one table (all of them)")
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )
    parser.add_argument("--json", action="store_true", help="as JSON")


def examples() -> list[str]:
    """Return the example queries, each with its question as a comment."""
    folder = files("pipeline.warehouse.sql") / "examples"
    found = sorted((item for item in folder.iterdir()), key=lambda item: item.name)
    return [item.read_text(encoding="utf-8").strip() for item in found if item.name.endswith("sql")]


def run(given: argparse.Namespace) -> int:
    """Print the tables, or one table's columns."""
    warehouse = Store(given.store).warehouse
    if given.name is None:
        answer = fenced_query(warehouse, TABLES)
    else:
        answer = fenced_query(warehouse, COLUMNS, parameters=[given.name])
        if not answer.rows:
            raise UsageError(
                f"there is no table '{given.name}'", todo="drytally tables lists them all."
            )
    if given.json:
        rows = [dict(zip(answer.names, row, strict=True)) for row in answer.rows]
        content = {"schema_version": SCHEMA_VERSION, "rows": rows, "examples": examples()}
        print(json.dumps(content, indent=1, ensure_ascii=False))
        return 0
    if given.name is None:
        print("\n".join(f"{name}\n    {told}" for name, told in answer.rows) + "\n")
        for number, text in enumerate(examples(), start=1):
            print(f"Example {number}\n{text}\n")
        print("drytally tables NAME shows a table's columns.")
    else:
        (about,) = fenced_query(warehouse, ABOUT, parameters=[given.name]).rows
        print(f"{given.name}: {about[0]}\n")
        for name, kind, told in answer.rows:
            print(f"{name} ({kind})\n    {told or ''}")
    return 0
