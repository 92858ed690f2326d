"""`drytally tables`: the data dictionary of the warehouse, and numbered example queries."""

import argparse
import difflib
import json
from collections.abc import Iterable
from importlib.resources import files

from pipeline.commands.store_option import add_store
from pipeline.errors import UsageError
from pipeline.store.layout import Store
from pipeline.warehouse.fence import fenced_query
from schemas.macros import MACROS as DECLARED_MACROS

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
MACROS = """
SELECT DISTINCT function_name, array_to_string(parameters, ', ') AS parameters, comment
FROM duckdb_functions() WHERE function_type IN ('macro', 'table_macro') AND comment IS NOT NULL
ORDER BY 1
"""
COLUMNS = """
SELECT column_name AS "column", data_type AS type, comment AS description
FROM duckdb_columns() WHERE table_name = ? AND NOT internal ORDER BY column_index
"""

EXAMPLE_OF = {macro.name: macro.example for macro in DECLARED_MACROS}


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "docs/analyst.md opens the file from Python, R and other tools."
    parser.add_argument("name", nargs="?", metavar="NAME", help="one table (all of them)")
    add_store(parser)
    parser.add_argument("--example", type=int, metavar="N", help="print one example query")
    parser.add_argument("--json", action="store_true", help="as JSON")


def examples() -> list[str]:
    """Return the example queries, each with its question as a comment."""
    folder = files("pipeline.warehouse.sql") / "examples"
    found = sorted((item for item in folder.iterdir()), key=lambda item: item.name)
    return [item.read_text(encoding="utf-8").strip() for item in found if item.name.endswith("sql")]


def question(example: str) -> str:
    """Return the question of an example: its leading comment, up to the question mark."""
    told = " ".join(line[2:].strip() for line in example.splitlines() if line.startswith("--"))
    return told.partition("?")[0] + "?" if "?" in told else told


def run(given: argparse.Namespace) -> int:
    """Print the tables, one table's columns, a macro, or an example query."""
    warehouse = Store(given.store).warehouse
    if given.example is not None:
        return _example(given.example)
    tables = dict(fenced_query(warehouse, TABLES).rows)
    macros = {name: (parameters, told)
              for name, parameters, told in fenced_query(warehouse, MACROS).rows}  # fmt: skip
    if given.name is None:
        _print_all(tables, macros, as_json=given.json)
    elif given.name in macros and given.name not in tables:
        _print_macro(given.name, *macros[given.name], as_json=given.json)
    else:
        answer = fenced_query(warehouse, COLUMNS, parameters=[given.name])
        if not answer.rows:
            raise UsageError(
                f"there is no table or macro '{given.name}'",
                expected=_near(given.name, tables, macros),
                todo="drytally tables lists them all.",
            )  # fmt: skip
        about = fenced_query(warehouse, ABOUT, parameters=[given.name]).rows
        if given.json:
            _print_json([dict(zip(answer.names, row, strict=True)) for row in answer.rows])
            return 0
        print(f"{given.name}: {about[0][0] if about else ''}\n")
        for name, kind, told in answer.rows:
            print(f"{name} ({kind})\n    {told or ''}")
    return 0


def _near(name: str, *named: Iterable[str]) -> str | None:
    every = [one for group in named for one in group]
    close = difflib.get_close_matches(name, every, n=3, cutoff=0.5)
    close += [one for one in every if name.lower() in one and one not in close][: 3 - len(close)]
    return f"one of the tables and macros; near: {', '.join(close)}" if close else None


def _example(number: int) -> int:
    found = examples()
    if not 1 <= number <= len(found):
        raise UsageError(f"there is no example {number}", expected=f"1 to {len(found)}")
    print(found[number - 1])
    return 0


def _print_all(
    tables: dict[str, str], macros: dict[str, tuple[str, str]], *, as_json: bool
) -> None:
    if as_json:
        _print_json([{"table": name, "description": told} for name, told in tables.items()])
        return
    print("\n".join(f"{name}\n    {told}" for name, told in tables.items()))
    print("\nMacros, beside DuckDB's own functions:")
    for name, (parameters, told) in macros.items():
        print(f"{name}({parameters})\n    {told}\n    {EXAMPLE_OF[name]}")
    print("\nExample queries (drytally tables --example N --store DIR prints one):")
    for number, text in enumerate(examples(), start=1):
        print(f"{number:>3}  {question(text)}")
    print("\ndrytally tables NAME shows a table's columns or a macro.")


def _print_macro(name: str, parameters: str, told: str, *, as_json: bool) -> None:
    if as_json:
        _print_json([{"macro": name, "parameters": parameters, "description": told,
                      "example": EXAMPLE_OF[name]}])  # fmt: skip
        return
    print(f"{name}({parameters})\n    {told}\n    {EXAMPLE_OF[name]}")


def _print_json(rows: list[dict[str, object]]) -> None:
    content = {"schema_version": SCHEMA_VERSION, "rows": rows, "examples": examples()}
    print(json.dumps(content, indent=1, ensure_ascii=False))
