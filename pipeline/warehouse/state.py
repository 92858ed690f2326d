"""Counts of all sites from kept ones, less what some sites counted before and more what they do."""

import re
from collections.abc import Collection, Sequence

import duckdb
import polars as pl

from pipeline.errors import RegistryError
from pipeline.measures.measure import State, query_text
from pipeline.warehouse.table_sums import of_sites

ORDERED = re.compile(r"\nORDER BY ([^()\n]+)\s*\Z")


def checked(query: str, state: State, frame: pl.DataFrame) -> pl.DataFrame:
    """Return the counts of a whole query as a merge would give them: no group of nothing.

    Raises:
        RegistryError: where the columns are not those that its state says, or do not add exactly.
    """
    if state.kind == "of site":
        unfit = (
            [] if "site_id" in frame.columns and not frame["site_id"].null_count() else ["site_id"]
        )
    else:
        unfit = [key for key in state.keys if key not in frame.columns]
    if state.kind == "sums":
        sums = [name for name in frame.columns if name not in state.keys]
        kinds = {name: frame.schema[name] for name in sums}
        unfit += [n for n, k in kinds.items() if not (k.is_integer() or isinstance(k, pl.Decimal))]
        if state.keys and not unfit:
            frame = frame.filter(pl.any_horizontal(pl.col(name).fill_null(0) != 0 for name in sums))
    if unfit:
        raise RegistryError(
            f"{query}.sql does not give what it says of its rows",
            found=f"{', '.join(unfit)} in the state '{state.kind}'",
            done="Nothing was counted.",
            todo="Sums are whole numbers or decimals; a row of a site names it as site_id.",
        )
    return frame


def replaced(
    connection: duckdb.DuckDBPyConnection,
    kept: pl.DataFrame,
    new: pl.DataFrame,
    sites: Collection[str],
    order: str,
) -> pl.DataFrame:
    """Return the kept rows with those of some sites replaced.

    Args:
        connection: any.
        kept: the counts of all sites; each row names its site as `site_id`.
        new: those of the sites.
        sites: the sites.
        order: columns to sort by; empty: in no order.
    """
    frames = {"kept_rows": kept, "new_rows": new.cast(kept.schema)}
    return _asked(
        connection, frames,
        f"FROM kept_rows WHERE NOT {of_sites(sites)} UNION ALL FROM new_rows", kept, order,
    )  # fmt: skip


def merged(
    connection: duckdb.DuckDBPyConnection,
    keys: Sequence[str],
    counts: tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame],
    order: str,
) -> pl.DataFrame:
    """Return sums of all sites, those of some taken out as they were and put in as they are.

    Args:
        connection: any.
        keys: columns that tell groups apart; without any there is one row.
        counts: of all sites; of some as they were; of the same as they are.
        order: columns to sort by; empty: in no order.
    """
    kept, old, new = counts
    frames = {
        "kept_rows": kept,
        "old_rows": old.cast(kept.schema),
        "new_rows": new.cast(kept.schema),
    }
    sums = [name for name in kept.columns if name not in keys]

    def one(name: str, sign: str) -> str:
        if name in keys:
            return f'"{name}"'
        whole = "" if isinstance(kept.schema[name], pl.Decimal) else "::HUGEINT"
        return f'{sign}("{name}"{whole}) AS "{name}"'

    def part(table: str, sign: str) -> str:
        return f"SELECT {', '.join(one(name, sign) for name in kept.columns)} FROM {table}"

    told = ", ".join(
        f'"{name}"' if name in keys else f'sum("{name}") AS "{name}"' for name in kept.columns
    )
    grouped = ", ".join(f'"{key}"' for key in keys)
    parts = " UNION ALL ".join(
        part(*one) for one in (("kept_rows", ""), ("old_rows", "-"), ("new_rows", ""))
    )
    some = " OR ".join(f'coalesce(sum("{name}"), 0) <> 0' for name in sums)
    group = f"GROUP BY {grouped} HAVING {some}" if keys else ""
    return _asked(connection, frames, f"SELECT {told} FROM ({parts}) {group}", kept, order)


def order_of(query: str) -> str:
    """Return the columns that a query sorts its rows by at its end; empty where it does not."""
    found = ORDERED.search(query_text(query))
    return re.sub(r"\w+\.", "", found[1]) if found else ""


def _asked(
    connection: duckdb.DuckDBPyConnection,
    frames: dict[str, pl.DataFrame],
    query: str,
    like: pl.DataFrame,
    order: str,
) -> pl.DataFrame:
    """Run a query over frames and return its rows with the columns and types of one of them."""
    described = {}
    for name, frame in frames.items():
        connection.register(name, frame)
    try:
        for name, kind, *_ in connection.execute("DESCRIBE kept_rows").fetchall():
            described[name] = kind
        typed = ", ".join(f'"{name}"::{kind} AS "{name}"' for name, kind in described.items())
        sorted_by = f"ORDER BY {order}" if order else ""
        found: pl.DataFrame = connection.sql(f"SELECT {typed} FROM ({query}) {sorted_by}").pl()
    finally:
        for name in frames:
            connection.unregister(name)
    return found.cast(like.schema)
