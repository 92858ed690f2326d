"""Worlds as facts of the warehouse, and the measures' own SQL and inference on them."""

from datetime import date

import duckdb
import polars as pl

from pipeline.settings import Settings
from tests.measures.small_warehouse import run, warehouse
from tests.truth.made import Rows, chambers_of, site_id
from tests.truth.worlds import World

AS_OF = date(2026, 7, 1)
SEASONS = ("winter", "spring", "summer", "autumn")
MEASURES = {
    "drying": ("routine_drying_verdict",),
    "sites": ("site_comparison",),
    "rates": ("rescue_rate", "analysis_set"),
    "chambers": ("dryer_calibration",),
}


def wanted(world: World) -> tuple[str, ...]:
    """Name the measures that a world is about."""
    about = []
    if world.chambers:
        about += MEASURES["chambers"]
    elif world.dead or (world.weak and not (world.copies or world.unordered)):
        about += MEASURES["sites"]
    elif world.weak:
        about += MEASURES["rates"]
    else:
        about += MEASURES["drying"]
    return tuple(about)


def measured(world: World, rows: Rows) -> dict[str, pl.DataFrame]:
    """Put the rows into fresh tables and run the measures that the world is about."""
    con = warehouse()
    _fill(con, "site", _sites(world))
    _fill(con, "dryer", pl.DataFrame(chambers_of(world), schema=["site_id", "dryer_id"],
                                     orient="row"))  # fmt: skip
    aids = session_aid(rows.sessions)
    _fill(con, "session_aid", aids)
    _fill(con, "session", _sessions(aids))
    if rows.repeats.height:
        _fill(con, "repeat_measurement", _repeats(rows.repeats))
    if rows.checks.height:
        _fill(con, "dose_check", _checks(rows.checks))
    try:
        tables = run(con, Settings(), AS_OF, wanted=wanted(world))
    finally:
        con.close()
    return {name: tables[name] for name in wanted(world)}


def _fill(con: duckdb.DuckDBPyConnection, table: str, frame: pl.DataFrame) -> None:
    known = {
        name
        for (name,) in con.execute(
            "SELECT column_name FROM duckdb_columns() WHERE table_name = $1", [table]
        ).fetchall()
    }
    own = frame.select(name for name in frame.columns if name in known)
    con.register("made_rows", own.to_arrow())
    con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM made_rows")
    con.unregister("made_rows")


def _sites(world: World) -> pl.DataFrame:
    return pl.DataFrame({
        "site_id": [site_id(at) for at in range(world.sites)],
        "site_name": [f"Site {at + 1}" for at in range(world.sites)],
        "latitude": [51.0] * world.sites, "time_zone": ["Europe/London"] * world.sites,
        "last_local_date": [date(2026, 6, 19)] * world.sites,
    })  # fmt: skip


def _facts(frame: pl.DataFrame, moment: str) -> pl.DataFrame:
    """Add the days of a moment, and where the row stood."""
    day = pl.col(moment).dt.date()
    return frame.with_row_index("line").with_columns(
        pl.col("line").cast(pl.Int64), pl.lit("f").alias("file_id"),
        pl.lit(1, pl.Int64).alias("part_of_line"), day.alias("local_date"),
        day.dt.month_start().alias("month"), pl.col(moment).alias(f"{moment}_utc"),
        pl.lit("instant").alias("time_precision"), pl.lit(1, pl.Int64).alias("replicate"),
    )  # fmt: skip


def session_aid(sessions: pl.DataFrame) -> pl.DataFrame:
    """Return the facts of aids: every dried session is the first of its own episode."""
    is_dried = pl.col("treatment") == "dried"
    season = ((pl.col("local_date").dt.month() % 12) // 3).replace_strict(
        dict(enumerate(SEASONS)), return_dtype=pl.String
    )
    return _facts(sessions, "started_at").with_columns(
        pl.concat_str("site_id", pl.lit("|"), "session_id").alias("session_key"),
        pl.concat_str("site_id", pl.lit("|"), "device_id").alias("device_key"),
        pl.concat_str("site_id", pl.lit("|"), "patient_id").alias("wearer_key"),
        pl.coalesce("condition_after_cleaning", "condition_before")
        .alias("condition_before_drying"),
        pl.col("condition_after_cleaning").is_not_null().alias("is_order_recorded"),
        pl.lit(value=False).alias("is_outside_rates"), is_dried.alias("is_first_cycle"),
        pl.when(is_dried).then(pl.lit(1, pl.Int64)).alias("cycle_number"),
        pl.when(is_dried).then(pl.concat_str(pl.lit("e"), "session_id")).alias("episode_id"),
        pl.lit(value=False).alias("is_episode_open"), season.alias("season"),
        pl.lit("climate not given").alias("climate"), pl.lit(1, pl.Int64).alias("aids_in_chamber"),
        pl.lit("climate not given").alias("climate_group"),
        pl.lit(value=True).alias("is_complete"), pl.lit(value=True).alias("is_alone"),
    )  # fmt: skip


def _sessions(aids: pl.DataFrame) -> pl.DataFrame:
    return aids.with_columns(pl.lit(1, pl.Int64).alias("aids"))


def _repeats(frame: pl.DataFrame) -> pl.DataFrame:
    return _facts(frame, "measured_at").with_columns(
        pl.concat_str("site_id", pl.lit("|"), "device_id").alias("device_key")
    )


def _checks(frame: pl.DataFrame) -> pl.DataFrame:
    tolerance = pl.max_horizontal(pl.col("dose_ul") / 10, 0.2)
    error = pl.col("reading_ul") - pl.col("dose_ul")
    return _facts(frame, "checked_at").with_columns(
        error.alias("error_ul"),
        tolerance.alias("tolerance_ul"),
        (error.abs() <= tolerance + 1e-9).alias("is_within_tolerance"),
    )
