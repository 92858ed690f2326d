"""Run the queries of measures: whole, or over the sites whose rows changed.

What a query counts is kept with a hash of what it rests on: its text, the settings, the code and,
by site, the tables that it reads. Where only some sites differ from the published warehouse, and
all else is equal, the query runs over these sites alone: once over the published rows and once
over the new ones, and its kept counts are less the first and more the second (`State`). Every other
case is counted whole.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Protocol

import duckdb
import polars as pl

from pipeline.errors import RegistryError
from pipeline.measures.measure import Measure, State, query_text, state_of
from pipeline.settings import Settings
from pipeline.warehouse import carry
from pipeline.warehouse.carry import BEFORE, Tables, code_of, of_sites
from pipeline.warehouse.connect import set_variables
from pipeline.warehouse.state import checked, merged, replaced

ORDERED = re.compile(r"\nORDER BY ([^()\n]+)\s*\Z")
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
        sites: the sites that differ from the published warehouse; None: count whole.
        kept: the published counts, where some sites differ.
    """

    base: str = ""
    rests_on: str = ""
    sites: frozenset[str] | None = None
    kept: pl.DataFrame | None = None


@dataclass
class Side:
    """A connection on which a query sees the rows of some sites alone, or all.

    Attributes:
        connection: its own temporary tables and views.
        source: the database whose rows are seen: the published one or the one being built.
        sites: the sites seen; None: all, as they lie in the database being built.
        made: hash of what each temporary table was made from.
    """

    connection: duckdb.DuckDBPyConnection
    source: str
    sites: frozenset[str] | None
    made: dict[str, str] = field(default_factory=dict)

    def see(self, tables: Iterable[str]) -> None:
        """Let views of the tables' names hold the rows of the sites."""
        if self.sites is None:
            return
        for name in tables:
            self.connection.execute(
                f'CREATE OR REPLACE TEMP VIEW "{name}" AS SELECT * FROM'
                f' "{self.source}".main."{name}" WHERE {of_sites(self.sites)}'
            )

    def put(self, name: str, frame: pl.DataFrame) -> None:
        """Make a small table of the whole group."""
        self.connection.register("given_rows", frame)
        self.connection.execute(f'CREATE OR REPLACE TEMP TABLE "{name}" AS FROM given_rows')
        self.connection.unregister("given_rows")


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
        self._sides: dict[tuple[str, frozenset[str] | None], Side] = {}
        self._group_wide: dict[str, pl.DataFrame] = {}
        self._uses = Counter(
            name for one in measures for name in {*one.queries, *one.group_wide, *one.temporary}
        )
        self._counted: dict[str, tuple[str, pl.DataFrame]] = {}

    def close(self) -> None:
        """Let go of the temporary tables."""
        for side in self._sides.values():
            side.connection.close()
        self._sides.clear()

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

        Where the warehouse being built is a copy of the published one, rows of sites that do not
        differ hold them already.

        Returns:
            The sites whose columns were filled; None: all.
        """
        self._make_group_wide(measure, [name], later)
        plan = self._plan(measure, name, later)
        sites = plan.sites | self.rebuilt if is_copy and plan.sites is not None else None
        side = self._side(self._catalog, sites)
        if sites != frozenset():
            self._ready(side, measure, [name], later)
            side.connection.execute(
                UPDATED.sub(f'UPDATE "{self._catalog}".main.\\1', query_text(name))
            )
        if self.kept is not None:
            self.kept.now[name] = [plan.base, plan.rests_on, ""]
        return sites

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
        if plan.sites is None or plan.kept is None:
            frame = checked(query, state, self._run(measure, query, None, later))
        elif plan.sites:
            frame = self._changed(measure, query, plan, later)
        else:
            frame = plan.kept
        if self.kept is not None and state.kind != "whole":
            is_same = plan.sites == frozenset()
            name = self.kept.before[query][2] if is_same else self.kept.write(query, frame)
            self.kept.now[query] = [plan.base, plan.rests_on, name]
        return frame

    def _changed(
        self, measure: Measure, query: str, plan: Plan, later: Collection[str]
    ) -> pl.DataFrame:
        """Return the kept counts with those of some sites taken out and put in again."""
        state, kept, sites = _state(query), plan.kept, plan.sites
        assert kept is not None and sites is not None
        new = self._run(measure, query, sites, later)
        order = order_of(query)
        if state.kind == "of site":
            return replaced(self.connection, kept, new, sites, order)
        old = self._run(measure, query, sites, later, BEFORE)
        return merged(self.connection, state.keys, (kept, old, new), order)

    def _run(
        self, measure: Measure, query: str, sites: frozenset[str] | None, later: Collection[str],
        source: str = "",
    ) -> pl.DataFrame:  # fmt: skip
        side = self._side(source or self._catalog, sites)
        self._ready(side, measure, [query], later)
        found: pl.DataFrame = side.connection.sql(query_text(query)).pl()
        return found

    def _side(self, source: str, sites: frozenset[str] | None) -> Side:
        if (source, sites) not in self._sides:
            cursor = self.connection.cursor()
            cursor.execute("SET TimeZone = 'UTC'")
            set_variables(cursor, self._as_of, self._settings)
            self._sides[source, sites] = Side(cursor, source, sites)
        return self._sides[source, sites]

    def _ready(
        self, side: Side, measure: Measure, names: Iterable[str], later: Collection[str]
    ) -> None:
        """Make what some queries of a measure rest on, unless it is there already."""
        mentioned = steps_of(measure, names)
        if side.sites is not None:
            inner = [one for one in mentioned if one not in measure.group_wide]
            named = carry.tables_named(self.connection, code_of([*names, *inner]), later)
            side.see(one for one in named if self._sums(one).has_sites)
        for name in (one for one in measure.group_wide if one in mentioned):
            side.put(name, self._group_wide[name])
        for name in (one for one in measure.views if one in mentioned):
            side.connection.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {query_text(name)}")
        for name in (one for one in measure.temporary if one in mentioned):
            base, sites = self._rests_on(measure, name, later)
            rests_on = f"{base} {sorted((t, s.digest) for t, s in sites.items())}"
            if side.made.get(name) != rests_on:
                side.connection.execute(
                    f"CREATE OR REPLACE TEMP TABLE {name} AS {query_text(name)}"
                )
                side.made[name] = rests_on

    def _sums(self, table: str) -> carry.Sums:
        return self.tables.sums(self.connection, table)

    def _rests_on(
        self, measure: Measure, name: str, later: Collection[str]
    ) -> tuple[str, dict[str, carry.Sums]]:
        """Return the hash of what of a resource no site alone decides, and the tables by site."""
        mentioned = steps_of(measure, [name])
        inner = [one for one in mentioned if one not in measure.group_wide]
        text = code_of([name, *inner])
        sums = {t: self._sums(t) for t in carry.tables_named(self.connection, text, later)}
        whole = [(t, one.digest if not one.has_sites else one.columns) for t, one in sums.items()]
        group = [
            (one, self._digest(self._group_wide[one]))
            for one in measure.group_wide
            if one in mentioned
        ]
        day = self._as_of.isoformat() if "as_of" in text else ""
        base = carry.short((
            text, whole, group, self._settings.digest, carry.code_digest(), carry.facts_digest(),
            day,
        ))  # fmt: skip
        return base, {t: one for t, one in sums.items() if one.has_sites}

    def _plan(self, measure: Measure, name: str, later: Collection[str]) -> Plan:
        if name not in measure.fills and _state(name).kind == "whole":
            return Plan()
        base, sums = self._rests_on(measure, name, later)
        plan = Plan(base, _told(sums))
        entry = self.kept.before.get(name) if self.kept is not None else None
        if entry is None or entry[0] != base or self._published is None:
            return plan
        earlier = {t: self.tables.earlier.get(self.tables.name_of(t)) for t in sums}
        sound = {t: one for t, one in earlier.items() if one is not None}
        if len(sound) < len(sums) or _told(sound) != entry[1]:
            return plan
        every = {site for one in (*sums.values(), *sound.values()) for site in one.by_site}
        sites = frozenset(
            site for t, one in sums.items() for site in every
            if one.by_site.get(site) != sound[t].by_site.get(site)
        )  # fmt: skip
        if 2 * len(sites) > len(every):
            return plan
        if name in measure.fills:
            return Plan(base, plan.rests_on, sites)
        kept = self.kept.read(entry[2]) if self.kept is not None else None
        if kept is None:
            return plan
        carry.attach(self.connection, self._published)
        return Plan(base, plan.rests_on, sites, kept)

    def _digest(self, frame: pl.DataFrame) -> str:
        self.connection.register("hashed_rows", frame)
        try:
            return carry.digest_of(self.connection, "hashed_rows")
        finally:
            self.connection.unregister("hashed_rows")


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
            expected='"State: of site", "State: sums by …" or "State: whole, …" in its head',
            done="Nothing was counted.",
        )
    return state


def order_of(query: str) -> str:
    """Return the columns that a query sorts its rows by at its end; empty where it does not."""
    found = ORDERED.search(query_text(query))
    return re.sub(r"\w+\.", "", found[1]) if found else ""


def steps_of(
    measure: Measure, names: Iterable[str], *, is_group_wide_too: bool = False
) -> list[str]:
    """Return what of a measure's group-wide tables, views and temporary tables queries rest on.

    What a group-wide table itself rests on is not among these, unless asked for: its rows stand
    for it.
    """
    there = (*measure.group_wide, *measure.views, *measure.temporary)
    found: dict[str, None] = {}
    wanted = [*names]
    while wanted:
        current = wanted.pop()
        words = set(re.findall(r"\w+", code_of([current])))
        for one in there:
            if one in words and one not in found and one != current:
                found[one] = None
                if is_group_wide_too or one not in measure.group_wide:
                    wanted.append(one)
    return list(found)


def _told(sums: Mapping[str, carry.Sums]) -> str:
    return carry.short(
        [(t, one.columns, sorted(one.by_site.items())) for t, one in sorted(sums.items())]
    )
