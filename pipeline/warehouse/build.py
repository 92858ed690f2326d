"""Build the warehouse's facts from the live parts: whole, or some sites in a copy."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from pipeline.settings import Settings
from pipeline.statistics.climate import koeppen_geiger
from pipeline.warehouse import rules
from pipeline.warehouse.calibration import fit_lines
from pipeline.warehouse.closure import Closure, TooMuchError, closure_of
from pipeline.warehouse.connect import (
    columns,
    create,
    discard,
    insert,
    joined_as_written,
    quoted,
    set_variables,
    sql,
    writer,
)
from pipeline.warehouse.lists import clear_lists, list_rows, make_quarantine
from pipeline.warehouse.part_source import LivePart, sources_of
from pipeline.warehouse.part_views import PARTS, name_boxes, typed, with_boxes
from pipeline.warehouse.passed import passed
from pipeline.warehouse.plan_facts import PLAN, load_plan, move_day
from pipeline.warehouse.site_groups import groups_of, without_files
from pipeline.warehouse.touched import CHAMBER_RUNS, SESSIONS, Change, Touched
from schemas import macros, rule_book
from schemas.audit.contract_rule import ContractRule
from schemas.audit.quarantined_row import QuarantinedRow
from schemas.audit.refused_value import RefusedValue
from schemas.declare import Table
from schemas.exports.catalogue import columns_of, key_of, moment_of
from schemas.facts.catalogue import FACTS

LOADED = (
    ("sites", "site"),
    ("dryers", "dryer"),
    ("climate_normals", "climate_normal"),
    ("dryer_events", "dryer_event"),
    ("device_models", "device_model"),
    ("devices", None),
    ("dose_checks", "dose_check"),
    ("repeat_measurements", "repeat_measurement"),
    ("service_events", "service_event"),
    ("visit_counts", "visit_count"),
)
DERIVED = ("site", "dryer", "climate_normal", "dryer_event", "dose_check")
JOINED = (SESSIONS, CHAMBER_RUNS)
NARROW = ("session_load", "live_row", "episode_row", "episode_end", "cleaned_history")
COUNTED = ("session", "episode", "device")
OF_WEARERS = ("session_aid", *COUNTED)
REPLACED_WHOLE = frozenset({"site", "climate_normal", "dryer", "dryer_event", "device_model", PLAN})


def untouched(sites: Collection[str]) -> frozenset[str]:
    """Return the facts of which a build of some sites in a copy leaves the other sites' rows.

    A build of no site leaves all but what moves with the day.
    """
    return frozenset(FACTS) - (REPLACED_WHOLE if sites else {PLAN})


def build_warehouse(
    target: Path,
    parts: Sequence[LivePart],
    *,
    as_of: date,
    settings: Settings,
    sites: frozenset[str] | None = None,
    change: Change | None = None,
    plan: Sequence[Mapping[str, object]] = (),
) -> Touched | None:
    """Fill every fact and the lists of quarantined rows and refused values.

    Args:
        target: a new file, or a copy of the published warehouse when `sites` is given.
        parts: every live (file, table).
        as_of: the day from which "in the future" is judged.
        settings: the group's settings.
        sites: the sites that changed, in a copy; of none, the day alone moves; None builds
            everything. All ways give the same rows, since the same queries run over fewer of them.
        change: the files that came and went, where only rows of the wearers that they touch are
            to be written anew; None: every row of the sites.
        plan: rows of `comparison_plan` as plain values, days as ISO text; none without a plan.

    Returns:
        What was written in the copy; None where everything was built.
    """
    if sites is not None and not sites:
        move_day(target, as_of, settings, plan)
        return Touched(sites)
    if sites is not None:
        try:
            with writer(target) as connection:
                set_variables(connection, as_of, settings)
                return _build(connection, parts, settings, sites, plan, change)
        except TooMuchError:
            discard(target)
    groups = groups_of(parts)
    if len(groups) < 2:
        with writer(target, is_whole=True) as connection:
            set_variables(connection, as_of, settings)
            _build(connection, parts, settings, None, plan)
        return None
    with writer(target, is_whole=True) as connection:
        _create_facts(connection)
    for group in groups:
        with writer(target, is_whole=True) as connection:
            set_variables(connection, as_of, settings)
            others = without_files(connection, groups) if group is groups[-1] else frozenset()
            _build(connection, parts, settings, group | others, plan)
    return None


def _build(
    connection: duckdb.DuckDBPyConnection,
    parts: Sequence[LivePart],
    settings: Settings,
    sites: frozenset[str] | None,
    plan: Sequence[Mapping[str, object]],
    change: Change | None = None,
) -> Touched:
    used = [p for p in parts if sites is None or p.site_id is None or p.site_id in sites]
    closure = None
    if sites is not None and change is not None:
        closure = closure_of(connection, parts, change, sites)
    _prepare(connection, parts, used, sites)
    for statement in macros.statements(settings.smallest_cell):
        connection.execute(statement)
    _load_rules(connection)
    sources = sources_of(
        connection, list(PARTS), [p for p in used if closure is None or not closure.holds(p)],
        is_few=sites is not None,
    )  # fmt: skip
    name_boxes(
        connection,
        [*(sources[table] for table in with_boxes()), *(closure.boxes if closure else ())],
    )
    for table in (name for name in PARTS if name != SESSIONS):
        _view_part(connection, table, typed(table, sources[table]))
    load_plan(connection, plan)
    for table, fact in LOADED:
        _load(connection, table, fact)
    fit_lines(connection)
    staying = _settle(connection, closure, sources[SESSIONS])
    listed = [part for part in used if part not in staying]
    make_quarantine(connection, listed, staying)
    _join_log(connection, has_log=any(p.table_name == CHAMBER_RUNS for p in used))
    _load_sessions(connection)
    list_rows(connection, listed)
    connection.execute(
        "UPDATE site SET last_local_date = a.last FROM (SELECT site_id, max(local_date) AS"
        " last FROM session_aid GROUP BY site_id) AS a WHERE a.site_id = site.site_id"
    )
    return Touched(sites or frozenset()) if closure is None else closure.touched()


def _prepare(
    connection: duckdb.DuckDBPyConnection,
    parts: Sequence[LivePart],
    used: Sequence[LivePart],
    sites: frozenset[str] | None,
) -> None:
    """Rank the files and empty what is filled anew; of sessions `_settle` decides."""
    order = sorted(
        parts, key=lambda p: (p.first_seen_sequence, p.logical_name, p.sha256, p.file_id)
    )
    taken = {(part.file_id, part.table_name) for part in used}
    files = pl.DataFrame(
        {
            "file_rank": list(range(len(order))),
            "file_id": [part.file_id for part in order],
            "file": [part.file for part in order],
            "table_name": [part.table_name for part in order],
            "is_rolling": [part.is_rolling for part in order],
            "is_used": [(part.file_id, part.table_name) in taken for part in order],
        },
        schema={
            "file_rank": pl.Int64,
            "file_id": pl.String,
            "file": pl.String,
            "table_name": pl.String,
            "is_rolling": pl.Boolean,
            "is_used": pl.Boolean,
        },
    ).to_arrow()
    connection.register("given_file", files)
    # A row's place is one number: its file, its line (under 2^32), its part of it (under 256).
    connection.execute(
        "CREATE TEMP TABLE live_file AS SELECT *, row_number() OVER (ORDER BY file_id, table_name)"
        " * (1::BIGINT << 40) AS place_at FROM given_file WHERE is_used;"
        "CREATE TEMP TABLE other_file AS FROM given_file WHERE NOT is_used"
    )
    connection.unregister("given_file")
    if sites is None:
        connection.execute("CREATE TEMP MACRO in_scope(site) AS true")
        _create_facts(connection)
        return
    listed = ", ".join(quoted(site) for site in sorted(sites)) or "NULL"
    connection.execute(f"CREATE TEMP MACRO in_scope(site) AS site IN ({listed})")
    for name in (one for one in FACTS if one not in OF_WEARERS):
        scope = "" if name in REPLACED_WHOLE else "WHERE in_scope(site_id)"
        connection.execute(f"DELETE FROM {name} {scope}")


def _settle(
    connection: duckdb.DuckDBPyConnection, closure: Closure | None, sessions: str
) -> Sequence[LivePart]:
    """Choose the session rows that are written anew, and empty what they fill.

    Returns:
        Session files of which some rows are, and that are no news.
    """
    query, staying = typed(SESSIONS, sessions), list[LivePart]()
    anew = [""]
    if closure is not None:
        rows, staying = closure.settle()
        query = f"{query} UNION ALL BY NAME {rows}"
        anew = [
            "AND site_id NOT IN (SELECT site_id FROM touched_site)",
            "AND (site_id, wearer_key) IN (SELECT (site_id, wearer_key) FROM touched_wearer)",
        ]
    for name in OF_WEARERS:
        for condition in anew:
            connection.execute(f"DELETE FROM {name} WHERE in_scope(site_id) {condition}")
    clear_lists(connection, staying)
    connection.execute(
        "CREATE TEMP TABLE IF NOT EXISTS staying_day (site_id VARCHAR, local_date DATE)"
    )
    _view_part(connection, SESSIONS, query)
    return staying


def _create_facts(connection: duckdb.DuckDBPyConnection) -> None:
    declared: list[type[Table]] = [*FACTS.values(), QuarantinedRow, RefusedValue]
    for model in declared:
        create(connection, model)


def _load_rules(connection: duckdb.DuckDBPyConnection) -> None:
    """Write what every rule says, so that rows need to hold only its code."""
    create(connection, ContractRule)
    kinds = dict.fromkeys(columns(ContractRule), pl.String)
    connection.register("given_rule", pl.DataFrame(rule_book.rows(), schema=kinds).to_arrow())
    insert(connection, ContractRule, "SELECT * FROM given_rule")
    connection.unregister("given_rule")


def _view_part(connection: duckdb.DuckDBPyConnection, table: str, query: str) -> None:
    """Make a view of one table's accepted rows."""
    name = f"read_{table}" if table in JOINED else f"part_{table}"
    connection.execute(f"CREATE TEMP VIEW {name} AS {query}")


def _content(table: str) -> str:
    """Return a row's content as one value, numbers at their stored resolution."""
    terms = []
    for spec in columns_of(PARTS[table]):
        step = spec.resolution
        terms.append(f"round(p.{spec.name} / {step!r})::BIGINT" if step else f"p.{spec.name}")
    return f"struct_pack({', '.join(f'c{i} := {term}' for i, term in enumerate(terms))})"


def _key(table: str) -> str:
    terms = ", ".join(f"coalesce(p.{name}::VARCHAR, '')" for name in key_of(PARTS[table]))
    return f"concat_ws('|', {terms})"


def _judge_keyed(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    connection.execute(
        f"CREATE TEMP VIEW keyed_{table} AS "
        + sql("keyed_rows", table=table, key=_key(table), rule=rules.rule_case(table))
    )
    _judge(connection, table, f"keyed_{table}")


def _load(connection: duckdb.DuckDBPyConnection, table: str, fact: str | None) -> None:
    _judge_keyed(connection, table)
    if table == "climate_normals":
        _classify(connection)
    if table == "sites":
        connection.execute("CREATE TEMP TABLE site_climate (site_id VARCHAR, climate VARCHAR)")
    if fact is None:
        connection.execute(
            "CREATE OR REPLACE TABLE device_row_count AS"
            f" SELECT file_id, count(*) AS accepted FROM live_{table} GROUP BY file_id"
        )
        return
    insert(connection, FACTS[fact], _rows(table, fact))


def _rows(table: str, fact: str) -> str:
    """Return the query of a fact: its own, or its rows as they are where nothing is derived."""
    if fact in DERIVED:
        return passed(fact)
    moment = moment_of(PARTS[table])
    instant = f", {moment} AS {moment}_utc" if moment else ""
    return f"SELECT *{instant} FROM live_{table}"


def _judge(connection: duckdb.DuckDBPyConnection, table: str, source: str) -> None:
    """Find the rows of a table that do not count, and make a view of those that do."""
    connection.execute(
        f"CREATE TEMP TABLE verdict_{table} AS "
        + sql("live_rows", table=table, source=source, content=_content(table))
    )
    connection.execute(
        f"CREATE TEMP VIEW live_{table} AS SELECT p.* FROM part_{table} AS p"
        f" ANTI JOIN verdict_{table} AS v ON v.file_id = p.file_id AND v.line = p.line"
        " AND v.part_of_line = p.part_of_line"
    )


def _classify(connection: duckdb.DuckDBPyConnection) -> None:
    """Give each site with usable normals its climate class; without them it has none."""
    normals = connection.sql(
        "SELECT n.site_id, s.latitude, n.month, n.mean_temp_c, n.precipitation_mm"
        " FROM live_climate_normals AS n JOIN site AS s ON s.site_id = n.site_id"
        " ORDER BY n.site_id, n.month"
    ).pl()
    told: list[tuple[object, str]] = []
    for (site,), own in normals.group_by(["site_id"], maintain_order=True):
        temps, rain = own["mean_temp_c"].to_numpy(), own["precipitation_mm"].to_numpy()
        complete = own.height == 12 and not own.null_count().sum_horizontal()[0]
        if complete and rain.sum() > 0:
            climate = koeppen_geiger(temps, rain, float(own["latitude"][0]))
            told.append((site, climate))
    kinds = {"site_id": pl.String, "climate": pl.String}
    connection.register("given_climate", pl.DataFrame(told, schema=kinds, orient="row").to_arrow())
    connection.execute("INSERT INTO site_climate FROM given_climate")
    connection.unregister("given_climate")
    connection.execute("DELETE FROM site")
    insert(connection, FACTS["site"], passed("site"))


def _join_log(connection: duckdb.DuckDBPyConnection, *, has_log: bool) -> None:
    """Join session rows to the runs of their chamber's log; without a log they are as read."""
    connection.execute("CREATE TEMP VIEW part_chamber_runs AS " + sql("chamber_run_read"))
    _judge_keyed(connection, CHAMBER_RUNS)
    connection.execute("CREATE OR REPLACE TEMP TABLE session_run AS " + sql("session_run"))
    joined = passed("session_joined") if has_log else "SELECT * FROM read_sessions"
    connection.execute("CREATE TEMP VIEW part_sessions AS " + joined)
    insert(connection, FACTS["chamber_run"], sql("chamber_run"))


def _load_sessions(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute(
        "CREATE TEMP TABLE session_row AS " + sql("session_row", source="part_sessions")
    )
    _judge(connection, SESSIONS, "session_row")
    line = sql("quarantined_line", source="part_quarantine")
    connection.execute(f"CREATE TEMP VIEW quarantined_line AS {line}")
    connection.execute("CREATE TEMP VIEW placed_sessions AS " + sql("placed_sessions"))
    for name in NARROW:
        connection.execute(f"CREATE TEMP TABLE {name} AS " + passed(name))
    with joined_as_written(connection):
        connection.execute("CREATE TEMP TABLE session_reading AS " + passed("session_reading"))
        # Facts of aids and sessions are read from it, not from disk: it has the places of rows.
        connection.execute("CREATE TEMP TABLE written_aid AS " + passed("session_aid"))
    insert(connection, FACTS["session_aid"], "FROM written_aid")
    for name in COUNTED:
        insert(connection, FACTS[name], passed(name))
