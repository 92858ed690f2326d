"""Run the queries of measures: whole, or over the sites or wearers whose rows changed.

What a query counts is kept with a hash of what it rests on: its text, the settings, the code and,
by site, the tables that it reads. Where only some sites differ from the published warehouse, and
all else is equal, the query runs over these sites alone: once over the published rows and once
over the new ones, and its kept counts are less the first and more the second (`State`). Where it
says that each row it counts follows from one wearer's, and of a site only touched wearers differ,
it runs over these wearers alone. Every other case is counted whole.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Protocol

import duckdb
import polars as pl

from pipeline.errors import RegistryError
from pipeline.measures.measure import Measure, State, query_text, state_of
from pipeline.settings import Settings
from pipeline.warehouse import carry
from pipeline.warehouse.carry import code_of, steps_of
from pipeline.warehouse.connect import BEFORE, attach, set_variables
from pipeline.warehouse.scopes import Scope, is_over_half, scope_of
from pipeline.warehouse.sides import Side
from pipeline.warehouse.state import checked, merged, order_of, replaced
from pipeline.warehouse.table_sums import Sums, Tables, columns_of, is_narrow, short, sums_by_site
from pipeline.warehouse.wearer_rows import AFTER

UPDATED = re.compile(r"\bUPDATE (\w+)")


class Kept(Protocol):
    """Where counts are kept, by query: two hashes and the name of what holds them."""

    before: Mapping[str, list[str]]
    now: dict[str, list[str]]

    def read(self, name: str) -> pl.DataFrame | None:
        """Return the counts kept under a name; None where they are not sound."""

    def write(self, query: str, frame: pl.DataFrame) -> str:
        """Keep counts; returns their name."""


@dataclass(frozen=True)
class Plan:
    """How one query is to be counted.

    Attributes:
        base: hash of what is the same for all sites: text, code, settings, tables without sites.
        rests_on: hash of the rows of tables by site.
        scope: what differs from the published warehouse; None: count whole.
        kept: the published counts, where something differs.
    """

    base: str = ""
    rests_on: str = ""
    scope: Scope | None = None
    kept: pl.DataFrame | None = None


class Counting:
    """The counts of one run, measure by measure; what several measures need is made once.

    Args:
        connection: to the warehouse being built.
        as_of: the run's day.
        settings: the group's settings.
        tables: hashes of the tables.
        kept: counts of the published warehouse and of this run.
        published: the published warehouse; None: its counts are not to be used.
        measures: those of the run, in order: what several need is kept till the last of them.
        rebuilt: sites whose facts were built anew: their columns are to be filled, though all that
            they rest on may be what it was.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        as_of: date,
        settings: Settings,
        tables: Tables,
        kept: Kept | None = None,
        published: Path | None = None,
        measures: Sequence[Measure] = (),
        rebuilt: frozenset[str] = frozenset(),
    ) -> None:
        self.rebuilt = rebuilt
        self.connection = connection
        self.tables = tables
        self.kept = kept
        self._as_of, self._settings, self._published = as_of, settings, published
        self._catalog = str(connection.execute("SELECT current_database()").fetchall()[0][0])
        self._sides: dict[tuple[str, Scope | None], Side] = {}
        self._group_wide: dict[str, pl.DataFrame] = {}
        self._group_before: dict[str, pl.DataFrame | None] = {}
        self._uses = Counter(
            name for one in measures for name in {*one.queries, *one.group_wide, *one.temporary}
        )
        self._counted: dict[str, tuple[str, pl.DataFrame]] = {}

    def close(self) -> None:
        """Let go of the temporary tables."""
        for side in self._sides.values():
            side.connection.close()
        self._sides.clear()
        if self.tables.wearers is not None:
            self.tables.wearers.close(self.connection)

    def counts(self, measure: Measure, later: Collection[str] = ()) -> dict[str, pl.DataFrame]:
        """Return the counts of a measure's queries by name.

        Args:
            measure: the measure; the tables of those that it needs are filled.
            later: measures whose tables are not of this run yet.
        """
        self._make_group_wide(measure, measure.queries, later)
        found = self._frames(measure, later, measure.queries)
        self._uses.subtract({*measure.queries, *measure.group_wide, *measure.temporary})
        self._drop_unused()
        return {name: handed(one) for name, one in found.items()}

    def fill(
        self, measure: Measure, name: str, later: Collection[str], *, is_copy: bool
    ) -> frozenset[str] | None:
        """Fill the columns of facts that follow from a measure's table.

        Where the warehouse being built is a copy of the published one, rows that do not differ
        hold them already; those of touched wearers were written anew and hold none.

        Returns:
            The sites of which all columns were filled, beside touched wearers; None: all sites.
        """
        self._make_group_wide(measure, [name], later)
        plan, wearers = self._plan(measure, name, later), self.tables.wearers
        scope = None
        if is_copy and plan.scope is not None:
            sites = plan.scope.sites | self.rebuilt
            if wearers is not None and not _is_by_wearer(name):
                sites |= wearers.sites
            scope = Scope(sites, wearers is not None)
        side = self._side(self._catalog, scope)
        if scope is None or not scope.is_empty:
            self._ready(side, measure, [name], later)
            self._update(side, name)
        if self.kept is not None:
            self.kept.now[name] = [plan.base, plan.rests_on, ""]
        return None if scope is None else scope.sites

    def _update(self, side: Side, name: str) -> None:
        """Run one UPDATE on the warehouse being built and on the rows kept aside of it."""
        text, wearers = query_text(name), self.tables.wearers
        for table in UPDATED.findall(text):
            targets = [f'"{self._catalog}".main.{table}']
            if wearers is not None and wearers.is_made(table, AFTER):
                targets.append(f"{wearers.rows(self.connection, table, AFTER)} AS {table}")
            for target in targets:
                side.connection.execute(text.replace(f"UPDATE {table}", f"UPDATE {target}"))

    def _drop_unused(self) -> None:
        """Let go of what no later measure needs."""
        for name in [one for one in self._counted if self._uses[one] <= 0]:
            del self._counted[name]
        for side in self._sides.values():
            for name in [one for one in side.made if self._uses[one] <= 0]:
                side.connection.execute(f"DROP TABLE {name}")
                del side.made[name]

    def _make_group_wide(
        self, measure: Measure, names: Iterable[str], later: Collection[str]
    ) -> None:
        needed = steps_of(measure, names, is_group_wide_too=True)
        for name in (one for one in measure.group_wide if one in needed):
            self._group_wide[name] = self._frames(measure, later, [name])[name]

    def _frames(
        self, measure: Measure, later: Collection[str], queries: Collection[str]
    ) -> dict[str, pl.DataFrame]:
        found = {}
        for query in queries:
            base, sums = self._rests_on(measure, query, later)
            key = f"{base} {_told(sums)}"
            known, frame = self._counted.get(query, ("", None))
            if frame is None or known != key:
                frame = self._frame(measure, query, later)
                if self._uses[query] > 1:
                    self._counted[query] = key, frame
            found[query] = frame
        return found

    def _frame(self, measure: Measure, query: str, later: Collection[str]) -> pl.DataFrame:
        """Return the counts of one query, kept for the next run where its state allows."""
        state, plan = _state(query), self._plan(measure, query, later)
        if plan.scope is None or plan.kept is None:
            frame = checked(query, state, self._run(measure, query, None, later))
        elif plan.scope.is_empty:
            frame = plan.kept
        else:
            frame = self._changed(measure, query, plan, later)
        is_read_by_site = query in measure.group_wide and has_sites(frame)
        if self.kept is not None and (state.kind != "whole" or is_read_by_site):
            is_same = plan.scope is not None and plan.scope.is_empty
            name = self.kept.before[query][2] if is_same else self.kept.write(query, frame)
            self.kept.now[query] = [plan.base, plan.rests_on, name]
        return frame

    def _changed(
        self, measure: Measure, query: str, plan: Plan, later: Collection[str]
    ) -> pl.DataFrame:
        """Return the kept counts with those of what differs taken out and put in again."""
        state, kept, scope = _state(query), plan.kept, plan.scope
        assert kept is not None and scope is not None
        new = self._run(measure, query, scope, later)
        order = order_of(query)
        if state.kind == "of site":
            return replaced(self.connection, kept, new, scope.sites, order)
        old = self._run(measure, query, scope, later, BEFORE)
        return merged(self.connection, state.keys, (kept, old, new), order)

    def _run(
        self, measure: Measure, query: str, scope: Scope | None, later: Collection[str],
        source: str = "",
    ) -> pl.DataFrame:  # fmt: skip
        side = self._side(source or self._catalog, scope)
        self._ready(side, measure, [query], later)
        found: pl.DataFrame = side.connection.sql(query_text(query)).pl()
        return found

    def _side(self, source: str, scope: Scope | None) -> Side:
        if (source, scope) not in self._sides:
            cursor = self.connection.cursor()
            cursor.execute("SET TimeZone = 'UTC'")
            set_variables(cursor, self._as_of, self._settings)
            self._sides[source, scope] = Side(cursor, source, scope)
        return self._sides[source, scope]

    def _ready(
        self, side: Side, measure: Measure, names: Iterable[str], later: Collection[str]
    ) -> None:
        """Make what some queries of a measure rest on, unless it is there already."""
        mentioned = steps_of(measure, names)
        tables = self._tables(code_of(self._own(measure, *names)), later)
        with_sites = {name: one for name, one in tables.items() if one.has_sites}
        side.see(self.connection, with_sites, self.tables.wearers)
        for name in (one for one in measure.group_wide if one in mentioned):
            frame = self._group_wide[name]
            if side.source == BEFORE and has_sites(frame):
                earlier = self._published_frame(name)
                frame = frame if earlier is None else earlier
            side.put(name, frame)
        for name in (one for one in measure.views if one in mentioned):
            side.connection.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {query_text(name)}")
        for name in (one for one in measure.temporary if one in mentioned):
            base, sums = self._rests_on(measure, name, later)
            rests_on = f"{base} {sorted((t, one.digest) for t, one in sums.items())}"
            if side.made.get(name) != rests_on:
                side.connection.execute(
                    f"CREATE OR REPLACE TEMP TABLE {name} AS {query_text(name)}"
                )
                side.made[name] = rests_on

    def _tables(self, text: str, later: Collection[str]) -> dict[str, Sums]:
        """Return the tables that a text names, with the sums of what it may see of them."""
        named = carry.tables_named(self.connection, text, later)
        words = _words(text)
        found = {table: self._sums(table, words) for table in named}
        return {table: one for table, one in found.items() if one is not None}

    def _sums(self, table: str, words: Collection[str], catalog: str = "") -> Sums | None:
        """Return the sums of a table as built, or as published where that is named."""
        if is_narrow(table) and self._has_sites(table):
            try:
                return self.tables.narrow(self.connection, table, words, catalog)
            except (duckdb.CatalogException, duckdb.BinderException):
                return None
        if catalog:
            return self.tables.earlier.get(self.tables.name_of(table))
        return self.tables.sums(self.connection, table)

    def _has_sites(self, table: str) -> bool:
        return "site_id" in columns_of(self.connection, table, ())

    def _rests_on(
        self, measure: Measure, name: str, later: Collection[str]
    ) -> tuple[str, dict[str, Sums]]:
        """Return the hash of what of a resource no site alone decides, and the tables by site."""
        mentioned = steps_of(measure, [name])
        text = code_of(self._own(measure, name))
        sums = self._tables(text, later) | {
            one: found for one in measure.group_wide
            if one in mentioned and (found := self._sums_of(self._group_wide[one])) is not None
        }  # fmt: skip
        whole = [(t, one.digest if not one.has_sites else one.columns) for t, one in sums.items()]
        day = self._as_of.isoformat() if "as_of" in text else ""
        base = short((
            text, whole, self._settings.digest, carry.code_digest(), carry.facts_digest(),
            day,
        ))  # fmt: skip
        return base, {t: one for t, one in sums.items() if one.has_sites}

    def _plan(self, measure: Measure, name: str, later: Collection[str]) -> Plan:
        if name not in measure.fills and _state(name).kind == "whole":
            return Plan()
        base, now = self._rests_on(measure, name, later)
        plan = Plan(base, _told(now))
        entry = self.kept.before.get(name) if self.kept is not None else None
        if self.kept is None or entry is None or entry[0] != base or self._published is None:
            return plan
        attach(self.connection, self._published)
        words = _words(code_of(self._own(measure, name)))
        found = {
            one: self._sums(one, words, BEFORE) if one not in measure.group_wide
            else self._sums_of(self._published_frame(one)) for one in now
        }  # fmt: skip
        before = {table: one for table, one in found.items() if one is not None}
        if len(before) < len(now) or _told(before) != entry[1]:
            return plan
        scope = scope_of(now, before, self.tables, is_by_wearer=_is_by_wearer(name))
        if is_over_half(self.connection, now, before, self.tables, scope):
            return plan
        kept = None if name in measure.fills else self.kept.read(entry[2])
        return Plan(base, plan.rests_on, scope, kept)

    def _own(self, measure: Measure, *names: str) -> list[str]:
        """Return some resources and what they rest on but for tables of the whole group."""
        steps = steps_of(measure, names)
        return [*names, *(one for one in steps if one not in measure.group_wide)]

    def _published_frame(self, query: str) -> pl.DataFrame | None:
        """Return what a query of the whole group gave for the published warehouse, if kept."""
        entry = self.kept.before.get(query) if self.kept is not None else None
        if query not in self._group_before and self.kept is not None and entry is not None:
            self._group_before[query] = self.kept.read(entry[2])
        return self._group_before.get(query)

    def _sums_of(self, frame: pl.DataFrame | None) -> Sums | None:
        """Return the sums of a small table; one that names no site in each row is of no site."""
        if frame is None:
            return None
        if not has_sites(frame) and "site_id" in frame.columns:
            frame = frame.rename({"site_id": "sites"})
        self.connection.register("hashed_rows", frame)
        try:
            columns = columns_of(self.connection, "hashed_rows", ())
            return Sums(columns, sums_by_site(self.connection, "hashed_rows", columns, None))
        finally:
            self.connection.unregister("hashed_rows")


def has_sites(frame: pl.DataFrame) -> bool:
    """Tell whether each row of counts names its site."""
    return frame.schema.get("site_id") == pl.String


def handed(frame: pl.DataFrame) -> pl.DataFrame:
    """Return counts as an inference takes them: decimals as floats."""
    return frame.with_columns(
        pl.col(name).cast(pl.Float64)
        for name, kind in frame.schema.items()
        if isinstance(kind, pl.Decimal)
    )


def _state(query: str) -> State:
    state = state_of(query)
    if state is None:
        raise RegistryError(
            f"{query}.sql does not say how its counts follow a change",
            expected='"State: of site", "State: sums by …", "State: sums of wearers by …" or'
            ' "State: whole, …" in its head',
            done="Nothing was counted.",
        )
    return state


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", carry.LITERAL.sub("", text)))


def _is_by_wearer(name: str) -> bool:
    """Tell whether each row that a resource counts or fills follows from one wearer's."""
    state = state_of(name)
    return state is not None and state.is_by_wearer


def _told(sums: Mapping[str, Sums]) -> str:
    return short([(t, one.columns, sorted(one.by_site.items())) for t, one in sorted(sums.items())])
