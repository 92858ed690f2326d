"""Made episodes, sessions and events for the measures of what follows a drying."""

from datetime import UTC, date, datetime, timedelta

import duckdb
import polars as pl

from pipeline.measures.catalogue import MEASURES
from pipeline.settings import Settings
from pipeline.warehouse.connect import set_variables
from schemas import macros
from tests.measures.counted import counted
from tests.measures.small_warehouse import insert, warehouse

START = date(2026, 1, 1)


def day(number: int) -> date:
    """The day so many days after the start."""
    return START + timedelta(days=number)


def moment(number: int) -> datetime:
    """Nine o'clock of that day."""
    return datetime.combine(day(number), datetime.min.time(), UTC) + timedelta(hours=9)


def episode(aid: str, at: int = 0, before: str = "dead", after: str = "normal", **more) -> dict:
    """One episode of one session."""
    return {
        "episode_id": f"{aid}|{at}", "site_id": "site-01", "device_key": aid, "device_id": aid,
        "wearer_key": f"w {aid}", "started_at_utc": moment(at), "started_on": day(at),
        "ended_on": day(at), "condition_before": before, "condition_after": after, "cycles": 1,
        "is_open": False, "disposition": "returned_to_wearer", "is_outside_rates": False,
        "exposure": "immersion",
    } | more  # fmt: skip


def session(aid: str, at: int, before: str = "dead", after: str = "normal", **more) -> dict:
    """One dried session of an aid."""
    return {
        "site_id": "site-01", "session_key": f"{aid} {at}", "device_key": aid, "device_id": aid,
        "wearer_key": f"w {aid}", "treatment": "dried", "started_at_utc": moment(at),
        "local_date": day(at), "condition_before": before, "condition_before_drying": before,
        "condition_after_cleaning": before, "is_order_recorded": True, "condition_after": after,
        "disposition": "returned_to_wearer", "episode_id": f"{aid}|{at}", "cycle_number": 1,
        "is_first_cycle": True, "is_outside_rates": False, "aids_in_chamber": 1,
        "cycle_minutes": 20.0, "exposure": "immersion",
    } | more  # fmt: skip


def event(aid: str, at: int, what: str, **more) -> dict:
    """One service event."""
    return {"site_id": "site-01", "device_id": aid, "occurred_on": day(at), "event": what} | more


def measured(
    name: str,
    episodes: list[dict],
    sessions: list[dict],
    events: list[dict] | None = None,
    *,
    last: int = 400,
    sites: tuple[str, ...] = ("site-01",),
    settings: Settings | None = None,
) -> pl.DataFrame:
    """The table of one measure, the site's last loaded day given; devices follow the sessions."""
    con: duckdb.DuckDBPyConnection = warehouse()
    if episodes:
        insert(con, "episode", episodes)
    insert(con, "session_aid", sessions)
    insert(con, "session", [
        {"site_id": site, "session_key": f"last {at}", "local_date": day(at),
         "treatment": "dried"} for at in (0, last) for site in sites
    ])  # fmt: skip
    if events:
        insert(con, "service_event", events)
    con.execute(
        "INSERT INTO device BY NAME SELECT site_id, device_id, any_value(wearer_key) AS wearer_key,"
        " max(local_date) AS last_local_date FROM session_aid GROUP BY ALL"
    )
    return run_one(con, name, settings or Settings())


def run_one(con: duckdb.DuckDBPyConnection, name: str, settings: Settings) -> pl.DataFrame:
    """Run one measure."""
    set_variables(con, day(500), settings)
    for statement in macros.statements(11):
        con.execute(statement)
    measure = next(item for item in MEASURES if item.name == name)
    return measure.infer(counted(con, measure), settings)
