"""Warehouses of a few sites built, changed and counted, night after night."""

from collections.abc import Collection
from datetime import date
from pathlib import Path

import duckdb
import numpy as np
import polars as pl

from pipeline.measures.catalogue import MEASURES
from pipeline.settings import Settings
from pipeline.store.counts import KeptCounts
from pipeline.warehouse import carry
from pipeline.warehouse.connect import create, insert, quoted, set_variables, writer
from pipeline.warehouse.counting import Counting
from pipeline.warehouse.table_sums import Sums, Tables
from pipeline.warehouse.wearer_rows import BY_WEARER, WearerRows
from schemas import macros
from schemas.audit.row_account import RowAccount
from schemas.declare import Table
from schemas.facts.catalogue import FACTS
from tests.warehouse.made_facts import made

SETTINGS, DAY = Settings(), date(2026, 7, 1)
NAMES = tuple(measure.name for measure in MEASURES)
SITES = ("site-a", "site-b", "site-c", "site-d", "site-e")
ROWS = {
    "session_aid": 70,
    "session": 140,
    "episode": 40,
    "device": 24,
    "service_event": 40,
    "site": 1,
}
OF_SITES = [table for name, table in FACTS.items() if name != "device_model"] + [
    RowAccount, *(measure.schema for measure in MEASURES)
]  # fmt: skip
OF_SITES_BY_NAME = {table.Config.name: table for table in OF_SITES}
# Every quarter of a site is judged, for every measure that asks.
JUDGED = [
    (measure, quarter)
    for measure in ("rescue_rate", "measured_change", "routine_drying")
    for quarter in (
        date(2025, 1, 1), date(2025, 4, 1), date(2025, 7, 1), date(2025, 10, 1),
        date(2026, 1, 1), date(2026, 4, 1),
    )
]  # fmt: skip
Rows = dict[str, pl.DataFrame]
Keys = Collection[tuple[str, str]]


def rows_of(site: str, rng: np.random.Generator) -> Rows:
    """Return what one site sent: rows of every table that names sites."""
    tables = [table for table in OF_SITES if "site_id" in table.to_schema().columns]
    rows = {t.Config.name: made(t, site, ROWS.get(t.Config.name, 6), rng) for t in tables}
    boxes = rows["measurement_repeatability"].with_columns(pl.col("test_box_id").fill_null("box 1"))
    # A plan is of the whole group, and so would be a change of it.
    plan = rows["comparison_plan"].clear()
    sets = made(OF_SITES_BY_NAME["analysis_set"], site, len(JUDGED), rng).with_columns(
        pl.Series("measure", [measure for measure, _ in JUDGED]),
        pl.Series("quarter", [quarter for _, quarter in JUDGED]),
        is_in=pl.Series(rng.random(len(JUDGED)) < 0.9),
        is_in_period=pl.Series(rng.random(len(JUDGED)) < 0.9),
    )
    events = rows["service_event"].with_columns(
        pl.when(pl.Series(rng.random(ROWS["service_event"]) < 0.5))
        .then(pl.lit("sent_for_repair")).otherwise("event").alias("event")
    )  # fmt: skip
    return rows | {
        "measurement_repeatability": boxes, "comparison_plan": plan, "analysis_set": sets,
        "service_event": events,
    }  # fmt: skip


def more_of(before: Rows, rows: Rows) -> Rows:
    """Return what a site sent with the lines of another file added."""
    number = before["session_aid"].height
    own = [
        pl.format("{} of {}", name, pl.lit(number)).alias(name)
        for name in ("file_id", "session_key", "episode_id")
    ]
    return before | {
        name: pl.concat([
            before[name],
            rows[name].with_columns(
                one for one in own if one.meta.output_name() in rows[name].columns
            ),
        ])
        for name in ("session_aid", "service_event", "session")
    }  # fmt: skip


def put(con: duckdb.DuckDBPyConnection, table: type[Table], rows: pl.DataFrame) -> None:
    con.register("made_rows", rows)
    insert(con, table, "SELECT * FROM made_rows")
    con.unregister("made_rows")


def built(target: Path, sent: dict[str, Rows]) -> None:
    """Make a warehouse from nothing; the models and the pooled noise are of the whole group."""
    rng = np.random.default_rng(0)
    with writer(target) as con:
        for statement in macros.statements(11):
            con.execute(statement)
        for table in dict.fromkeys([*OF_SITES, FACTS["device_model"]]):
            create(con, table)
        for extra in ("quarantined_row", "refused_value"):
            con.execute(
                f"CREATE TABLE {extra} (file_id VARCHAR, table_name VARCHAR, line BIGINT,"
                " part_of_line BIGINT, row_json VARCHAR)"
            )
        con.execute("CREATE TABLE correction (site_id VARCHAR, line BIGINT, status VARCHAR)")
        put(con, FACTS["device_model"], made(FACTS["device_model"], "", 4, rng))
        pooled = next(m.schema for m in MEASURES if m.name == "measurement_repeatability")
        frame = made(pooled, "", 4, rng).with_columns(
            pl.lit(None, pl.String).alias("site_id"), pl.lit(None, pl.String).alias("test_box_id"),
            pl.Series("measure", ["hfa_gain", "hfa_ospl90", "thd", "ein"]),
        )  # fmt: skip
        put(con, pooled, frame.unique("measure", maintain_order=True))
        for rows in sent.values():
            for table in OF_SITES:
                if table.Config.name in rows:
                    put(con, table, rows[table.Config.name])


def grown(target: Path, sent: dict[str, Rows], sites: Collection[str], wearers: Keys) -> None:
    """Write rows of a copy anew: of some sites all, of others those of some wearers.

    Of these sites, small tables are written anew too.
    """
    by_site: dict[str, list[str]] = {}
    for site, key in wearers:
        by_site.setdefault(site, []).append(key)
    with writer(target) as con:
        for site in {*sites, *by_site}:
            keys = None if site in sites else by_site[site]
            for table in OF_SITES:
                _put_anew(con, table, site, sent[site], keys if is_by_wearer(table) else None)


def is_by_wearer(table: type[Table]) -> bool:
    """Tell whether each row of a table is one wearer's."""
    return table.Config.name in BY_WEARER


def _put_anew(
    con: duckdb.DuckDBPyConnection, table: type[Table], site: str, rows: Rows,
    keys: list[str] | None,
) -> None:  # fmt: skip
    name = table.Config.name
    if "site_id" not in table.to_schema().columns:
        return
    chosen = "" if keys is None else f"AND wearer_key IN ({', '.join(map(quoted, keys))})"
    con.execute(f"DELETE FROM {name} WHERE site_id = '{site}' {chosen}")
    if name in rows:
        own = pl.lit(True) if keys is None else pl.col("wearer_key").is_in(keys)
        put(con, table, rows[name].filter(own))


def corrected(before: Rows, rows: Rows, wearers: Keys) -> Rows:
    """Return what a site sent with the rows of some wearers, and its last day, as sent anew."""
    keys = [key for _, key in wearers]

    def one(name: str) -> pl.DataFrame:
        own = pl.col("wearer_key").is_in(keys)
        return pl.concat([before[name].filter(~own), rows[name].filter(own)])

    moved = rows["analysis_set"].select("rows", "aids", "last_month")
    return before | {name: one(name) for name in BY_WEARER} | {
        "site": before["site"].with_columns(rows["site"]["last_local_date"]),
        "analysis_set": before["analysis_set"].with_columns(moved.get_columns()),
    }  # fmt: skip


def counted(
    target: Path,
    tables: Tables,
    kept: KeptCounts,
    published: Path | None = None,
    rebuilt: frozenset[str] = frozenset(),
) -> dict[str, pl.DataFrame]:
    """Count every measure in order, and fill; returns counts by query."""
    found = {}
    with writer(target) as con:
        set_variables(con, DAY, SETTINGS)
        counting = Counting(con, DAY, SETTINGS, tables, kept, published, MEASURES, rebuilt)
        for place, measure in enumerate(MEASURES):
            found |= counting.counts(measure, NAMES[place:])
            tables.written(measure.name, ())
            sites: frozenset[str] | None = frozenset()
            for name in measure.fills:
                filled = counting.fill(
                    measure, name, NAMES[place + 1 :], is_copy=published is not None
                )
                sites = None if filled is None or sites is None else sites | filled
            tables.written(measure.name, carry.filled_columns([measure]), sites=sites)
        counting.close()
    return found


def fresh(
    earlier: dict[str, Sums] | None = None, touched: frozenset[str] | None = None,
    wearers: WearerRows | None = None,
) -> Tables:  # fmt: skip
    """Return hashes of a warehouse built whole, or of a copy in which some rows may differ."""
    small = touched or frozenset()
    if wearers is not None:
        small |= wearers.sites
    facts = [name for name in FACTS if name not in {"device_model", *BY_WEARER}]
    held = (
        {} if touched is None else dict.fromkeys(facts, small) | dict.fromkeys(BY_WEARER, touched)
    )
    return Tables(
        unfilled=carry.filled_columns(MEASURES), earlier=earlier or {}, touched=held,
        wearers=wearers,
    )  # fmt: skip
