"""The wearers of whom a change of files may have changed a row, with all that hangs together.

Facts of a row rest on its session's rows and on its aid's. So the rows written anew are closed:
with a row come all rows of its wearer, its session and its aid, as these were and as they are now.
The same queries run over them alone and give what they give over all.
"""

from collections.abc import Iterable, Sequence

import duckdb
import polars as pl

from pipeline.warehouse.connect import sql
from pipeline.warehouse.lists import quarantined_rows
from pipeline.warehouse.part_source import LivePart, chosen_rows
from pipeline.warehouse.part_views import boxes_named, typed, with_boxes
from pipeline.warehouse.touched import (
    MOST_OF_ALL,
    MOST_OF_SITE,
    SESSIONS,
    Change,
    Touched,
    is_most,
    whole_sites,
)

BEFORE = ("service_event", "calibration_line")
LINKS = """
CREATE TEMP MACRO wearer_link(site, name) AS hash(0, site, name);
CREATE TEMP MACRO session_link(site, name) AS hash(1, site, name);
CREATE TEMP MACRO device_link(site, name) AS hash(2, site, name);
CREATE TEMP MACRO start_link(site, moment) AS hash(3, site, epoch_us(moment));
"""
# No chamber of these sites has a log.
NO_RUNS = """
CREATE TEMP TABLE session_run (
    file_id VARCHAR, line BIGINT, part_of_line BIGINT, is_ambiguous BOOLEAN
)
"""
LINKED = """
CREATE TEMP TABLE link AS
SELECT
    wearer_link(site_id, wearer_key) AS wearer,
    session_link(site_id, session_key) AS session,
    CASE WHEN device_id IS NOT NULL THEN device_link(site_id, device_id) END AS device,
    CASE WHEN device_id IS NULL THEN start_link(site_id, started_at_utc) END AS start
FROM session_aid
SEMI JOIN touched_site USING (site_id)
UNION ALL
SELECT wearer, session, device, start FROM uncounted_key
"""
# With a key come the keys of all rows that bear it.
REACHED = """
CREATE OR REPLACE TEMP TABLE reached AS
SELECT DISTINCT key
FROM (
    SELECT unnest([wearer, session, device, start]) AS key
    FROM link
    WHERE
        wearer IN (SELECT key FROM frontier)
        OR session IN (SELECT key FROM frontier)
        OR device IN (SELECT key FROM frontier)
        OR start IN (SELECT key FROM frontier)
)
WHERE key IS NOT NULL AND key NOT IN (SELECT key FROM seen)
"""
PICKED = """
CREATE TEMP TABLE picked AS
SELECT site_id, file_id, line, part_of_line, true AS is_counted
FROM session_aid AS a
SEMI JOIN touched_site USING (site_id)
WHERE wearer_link(site_id, wearer_key) IN (SELECT key FROM seen)
UNION ALL
SELECT site_id, file_id, line, part_of_line, false AS is_counted
FROM uncounted_key
WHERE wearer IN (SELECT key FROM seen)
"""
TOUCHED_WEARERS = """
CREATE TEMP TABLE touched_wearer AS
SELECT DISTINCT site_id, wearer_key
FROM session_aid
SEMI JOIN touched_site USING (site_id)
WHERE wearer_link(site_id, wearer_key) IN (SELECT key FROM seen)
UNION
SELECT site_id, wearer_key FROM uncounted_key WHERE wearer IN (SELECT key FROM seen)
UNION
SELECT site_id, wearer_key FROM changed_key
"""
SHARES = """
WITH found AS (
    SELECT site_id, count(*) AS picked FROM picked WHERE is_counted GROUP BY site_id
),
held AS (SELECT site_id, count(*) AS held FROM session_aid GROUP BY site_id)
SELECT h.site_id, coalesce(f.picked, 0), h.held
FROM held AS h
LEFT JOIN found AS f ON f.site_id = h.site_id
"""
STAYING = """
CREATE OR REPLACE TEMP TABLE staying_day AS
SELECT a.site_id, max(a.local_date) AS local_date
FROM session_aid AS a
SEMI JOIN touched_site AS t ON t.site_id = a.site_id
ANTI JOIN touched_wearer AS w ON w.site_id = a.site_id AND w.wearer_key = a.wearer_key
GROUP BY a.site_id
UNION ALL
SELECT r.site_id, r.local_date
FROM apart_row AS r
SEMI JOIN touched_site AS t ON t.site_id = r.site_id
ANTI JOIN picked AS p
    ON p.file_id = r.file_id AND p.line = r.line AND p.part_of_line = r.part_of_line
"""
UNCOUNTED = "SELECT file_id, line, part_of_line FROM quarantined_row WHERE table_name = 'sessions'"
APART = """
SELECT file_id, line, part_of_line FROM refused_value
WHERE table_name = 'sessions' AND rule = 'session_agrees' AND column_name = 'started_at'
"""


class TooMuchError(Exception):
    """So much is to be written anew that all is built faster."""


class Closure:
    """What of some changed sites is to be written anew, found in a copy before it is changed.

    Args:
        connection: to the copy; takes temporary tables.
        parts: every live part.
        change: the files that came and went.
        sites: the changed sites of which not every row is to be written anew.
        whole: those of which every row is.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        parts: Sequence[LivePart],
        change: Change,
        sites: frozenset[str],
        whole: frozenset[str],
    ) -> None:
        self._connection = connection
        self._whole, self.sites = whole, sites
        self.boxes: list[str] = []
        own = [one for one in parts if one.site_id in sites]
        gone = [one for one in change.removed if one.site_id in sites]
        self._added = [one for one in own if one.file_id in change.added]
        self._removed = gone
        self._staying = [one for one in own if one.file_id not in change.added]
        connection.execute(LINKS)

    def remember(self) -> None:
        """Keep what is to be compared of the small tables, before they are written anew."""
        self._list_sites()
        for name in BEFORE:
            self._make(f"{name}_before", f"FROM {name} SEMI JOIN touched_site USING (site_id)")

    def holds(self, part: LivePart) -> bool:
        """Tell whether the closure chooses the rows of a part."""
        return part.table_name == SESSIONS and part.site_id in self.sites

    def leave_out(self, sites: frozenset[str]) -> None:
        """Let sites be written anew whole after all."""
        self.sites -= sites
        self._whole |= sites
        self._list_sites()

    def renamed_boxes(self) -> frozenset[str]:
        """Return the sites of which a test box is shown by another name than before."""
        told = []
        self.boxes = [self._source("boxes_of_closure", [*self._staying, *self._added], SESSIONS)]
        for name, side in (("now", self._added), ("before", self._removed)):
            own = [*self._staying, *side]
            told.append(boxes_named(
                self._source(f"boxes_{name}_{table}", own, table) for table in with_boxes()
            ))  # fmt: skip
        rows = self._connection.execute(
            f"SELECT DISTINCT n.site_id FROM ({told[0]}) AS n JOIN ({told[1]}) AS b"
            " ON b.site_id = n.site_id AND b.stored = n.stored AND b.shown <> n.shown"
        ).fetchall()
        return frozenset(site for (site,) in rows)

    def settle(self) -> tuple[str, list[LivePart]]:
        """Find the rows; the tables that facts rest on but sessions are filled.

        Returns:
            The query of the rows, those that do not count among them; session files of which only
            some are among these.

        Raises:
            TooMuchError: where it does not pay.
        """
        self._find_keys()
        self._make("seen", f"SELECT key FROM ({sql('touched_seed')}) WHERE key IS NOT NULL")
        self._make("frontier", "FROM seen")
        self._connection.execute(LINKED)
        while self._reach():
            pass
        self._connection.execute(PICKED)
        self._connection.execute(TOUCHED_WEARERS)
        every = [*self._staying, *self._added]
        grown = self._grown()
        rest = [one for one in every if one.table_name == SESSIONS and one.site_id in grown]
        if grown:
            self.leave_out(grown)
            for name in ("picked", "touched_wearer"):
                self._connection.execute(
                    f"DELETE FROM {name} WHERE site_id NOT IN (SELECT site_id FROM touched_site)"
                )
        self._connection.execute(STAYING)
        kept = self._source("picked", self._staying, SESSIONS, "FROM picked")
        self._make(
            "touched_row",
            f"{typed(SESSIONS, kept)} UNION ALL BY NAME"
            " FROM added_row SEMI JOIN touched_site USING (site_id)",
        )
        files = [(one.validated, one.file_id) for one in rest]
        more = chosen_rows(self._connection, "grown", files)
        rows = f"FROM touched_row UNION ALL BY NAME {typed(SESSIONS, more)}"
        return rows, self._of(self._staying, SESSIONS)

    def touched(self) -> Touched:
        """Return what was written anew."""
        found: pl.DataFrame = self._connection.sql("FROM touched_wearer ORDER BY ALL").pl()
        return Touched(self._whole, found)

    def _list_sites(self) -> None:
        frame = pl.DataFrame({"site_id": sorted(self.sites)}, schema={"site_id": pl.String})
        self._connection.register("given_site", frame)
        self._make("touched_site", "FROM given_site")
        self._connection.unregister("given_site")

    def _make(self, name: str, query: str) -> None:
        self._connection.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {query}")

    def _of(self, parts: Iterable[LivePart], table: str) -> list[LivePart]:
        return [one for one in parts if one.table_name == table and one.site_id in self.sites]

    def _source(
        self, name: str, parts: Iterable[LivePart], table: str, chosen: str | None = None
    ) -> str:
        files = [(one.validated, one.file_id) for one in self._of(parts, table)]
        return chosen_rows(self._connection, name, files, chosen)

    def _find_keys(self) -> None:
        """Make tables of the keys of changed rows and of rows that do not count."""
        self._list_removed()
        self._connection.execute(NO_RUNS)
        for name, parts in (("added", self._added), ("removed", self._removed)):
            self._make(f"{name}_row", typed(SESSIONS, self._source(name, parts, SESSIONS)))
        uncounted = self._source("uncounted", self._staying, SESSIONS, UNCOUNTED)
        self._make("uncounted_row", typed(SESSIONS, uncounted))
        apart = self._source("apart", self._staying, SESSIONS, APART)
        self._make("apart_row", typed(SESSIONS, apart))
        self._make("uncounted_key", self._keys("uncounted_row"))
        self._make(
            "changed_key",
            f"SELECT *, true AS is_added FROM ({self._keys('added_row')})"
            f" UNION ALL SELECT *, false FROM ({self._keys('removed_row')})",
        )
        rows = " UNION ALL BY NAME ".join(
            quarantined_rows(self._connection, f"{name}_side", self._of(parts, SESSIONS))
            for name, parts in (("added", self._added), ("removed", self._removed))
        )
        self._make("changed_quarantined", sql("quarantined_line", source=f"({rows})"))

    def _list_removed(self) -> None:
        given = [one.file_id for one in self._of(self._removed, SESSIONS)]
        frame = pl.DataFrame({"file_id": given}, schema={"file_id": pl.String})
        self._connection.register("given_file_id", frame)
        self._make("removed_file", "FROM given_file_id")
        self._connection.unregister("given_file_id")

    def _keys(self, source: str) -> str:
        return sql("touched_key", rows=sql("session_row", source=source))

    def _reach(self) -> bool:
        self._connection.execute(REACHED)
        self._connection.execute("INSERT INTO seen FROM reached")
        self._make("frontier", "FROM reached")
        return bool(self._connection.execute("FROM reached LIMIT 1").fetchall())

    def _grown(self) -> frozenset[str]:
        """Return the sites of which most rows are to be written anew."""
        rows = self._connection.execute(SHARES).fetchall()
        grown = frozenset(
            site for site, found, held in rows
            if site in self.sites and found > MOST_OF_SITE * held
        )  # fmt: skip
        whole = grown | self._whole
        anew = sum(held if site in whole else found for site, found, held in rows)
        if anew > MOST_OF_ALL * sum(held for *_, held in rows):
            raise TooMuchError
        return grown


def closure_of(
    connection: duckdb.DuckDBPyConnection,
    parts: Sequence[LivePart],
    change: Change,
    sites: frozenset[str],
) -> Closure | None:
    """Return the closure of some changed sites; None where every row of them is written anew.

    Args:
        connection: to a copy of the published warehouse, not changed yet.
        parts: every live part.
        change: the files that came and went.
        sites: the changed sites.

    Raises:
        TooMuchError: where all is built faster.
    """
    whole = whole_sites(sites, parts, change)
    if is_most(whole, parts):
        raise TooMuchError
    closure = Closure(connection, parts, change, sites - whole, whole)
    closure.leave_out(closure.renamed_boxes())
    closure.remember()
    return closure if closure.sites else None
