"""Which columns of which tables of two warehouses differ: what a failed comparison says."""

from collections.abc import Iterable
from pathlib import Path

import duckdb

MOST_ROWS = 3


def told(one: Path, other: Path, tables: Iterable[str], left_out: Iterable[str]) -> str:
    """Return for each table the columns that differ, and a few rows that one of the two lacks."""
    lines = []
    with duckdb.connect(":memory:") as con:
        for name, store in (("one", one), ("other", other)):
            con.execute(f"ATTACH '{store / 'warehouse.duckdb'}' AS {name} (READ_ONLY)")
        for table in tables:
            columns = [name for name, *_ in con.execute(f"DESCRIBE one.{table}").fetchall()]
            kept = [name for name in columns if name not in set(left_out)]
            differ = [name for name in kept if rows(con, table, [name]) != ([], [])]
            lines.append(f"{table}: {', '.join(differ) or 'rows as a whole'}")
            for side, lacking in zip(("one", "other"), rows(con, table, kept), strict=True):
                lines += [f"  only in {side}: {row}" for row in lacking[:MOST_ROWS]]
    return "\n".join(lines)


def rows(
    con: duckdb.DuckDBPyConnection, table: str, columns: list[str]
) -> tuple[list[str], list[str]]:
    """Return rows of one that the other lacks, and the reverse, as text."""
    listed = ", ".join(f'"{name}"' for name in columns)
    found = []
    for a, b in (("one", "other"), ("other", "one")):
        query = f"SELECT {listed} FROM {a}.{table} EXCEPT ALL SELECT {listed} FROM {b}.{table}"
        names = dict(enumerate(columns))
        found.append([
            str({names[at]: value for at, value in enumerate(row) if value is not None})
            for row in con.execute(query).fetchall()
        ])  # fmt: skip
    return found[0], found[1]
