"""Read one session, its cell of centiles and its peers from the published warehouse."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.measures.measure import query_text
from pipeline.warehouse.connect import reader, sql

PEERS = """
WITH moisture_reading AS ({reading}), moisture_peer AS ({peer}), moisture_visit AS ({visit})
SELECT value_ul, is_below, sum(wearers)::BIGINT AS wearers FROM ({drawn})
WHERE device_style = $device_style
    AND days_since_dry_band IS NOT DISTINCT FROM $days_since_dry_band
    AND ($climate_group IS NULL OR climate_group = $climate_group)
    AND ($season IS NULL OR season = $season)
GROUP BY ALL ORDER BY ALL
"""
CELL = ("device_style", "days_since_dry_band", "climate_group", "season")


@dataclass(frozen=True)
class Asked:
    """A session asked for: the clinic, the hashed id, and the words that were given.

    The words count as a session_key, where the site's exports give no session ids.
    """

    site_id: str
    session_id: str
    session_key: str


def read_session(warehouse: Path, asked: Asked) -> pl.DataFrame:
    """Read the aids of one session: one row per aid that counts, none where none counts."""
    return _read(warehouse, sql("handout_aid"), asdict(asked))


def read_earlier(warehouse: Path, site_id: str, device_key: str, before: date) -> pl.DataFrame:
    """Read an aid's earlier readings, newest first: local_date, value_ul (µL per aid), is_below."""
    given = {"site_id": site_id, "device_key": device_key, "before": before}
    return _read(warehouse, sql("handout_earlier"), given)


def read_cells(warehouse: Path, aid: Mapping[str, Any]) -> pl.DataFrame:
    """Read the centiles of every cell that may hold an aid, the finest first.

    Returns:
        level (1 the finest), the columns of a cell, centile, moisture_per_aid_ul,
        bound_low_ul, bound_high_ul, n, wearers, below_detection, highest_limit_ul, withheld.
    """
    return _read(warehouse, sql("handout_cell"), {name: aid[name] for name in CELL})


def read_peers(warehouse: Path, cell: Mapping[str, Any]) -> pl.DataFrame:
    """Read the readings behind one cell's centiles, one visit of each wearer.

    Returns:
        value_ul (µL per aid), is_below (the value is a limit), wearers.
    """
    query = PEERS.format(
        drawn=query_text("moisture_centile"), peer=query_text("moisture_peer"),
        reading=query_text("moisture_reading"), visit=query_text("moisture_visit"),
    )  # fmt: skip
    return _read(warehouse, query, {name: cell[name] for name in CELL})


def read_recheck(warehouse: Path, device_style: str) -> pl.DataFrame:
    """Read the recheck interval of a style, and of all aids; no rows where it was not measured."""
    with reader(warehouse) as connection:
        known = connection.execute(
            "SELECT 1 FROM duckdb_tables() WHERE table_name = 'recheck_interval'"
        ).fetchall()
        if not known:
            return pl.DataFrame(schema={"grouping": pl.String, "suggested_months": pl.Float64})
        found: pl.DataFrame = connection.sql(
            "SELECT grouping, suggested_months FROM recheck_interval WHERE suggested_months IS NOT"
            " NULL AND (grouping = 'all' OR (grouping = 'device_style' AND group_1 = $style))"
            " ORDER BY grouping DESC",
            params={"style": device_style},
        ).pl()
    return found


def read_run(warehouse: Path) -> dict[str, Any]:
    """Read the run that published the warehouse."""
    query = "SELECT * FROM refresh_run ORDER BY sequence DESC LIMIT 1"
    return _read(warehouse, query, {}).row(0, named=True)


def _read(warehouse: Path, query: str, given: dict[str, Any]) -> pl.DataFrame:
    with reader(warehouse) as connection:
        found: pl.DataFrame = connection.sql(query, params=given).pl()
    return found
