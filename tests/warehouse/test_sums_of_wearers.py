"""A query that says "sums of wearers" adds up over any parting of wearers who share nothing.

More partings by command: SEEDS=40 python -m pytest -n 0 tests/warehouse/test_sums_of_wearers.py
"""

import os
import shutil
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.measures import measure as recorded
from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import Measure, State, state_of
from pipeline.warehouse import state
from pipeline.warehouse.connect import set_variables, writer
from pipeline.warehouse.counting import Counting
from pipeline.warehouse.scopes import Scope
from pipeline.warehouse.table_sums import sums_by_site
from pipeline.warehouse.wearer_rows import AFTER, BY_WEARER, WearerRows
from tests.warehouse.made_facts import GROUPS, made, wearer_of
from tests.warehouse.made_nights import (
    DAY,
    NAMES,
    OF_SITES_BY_NAME,
    SETTINGS,
    SITES,
    built,
    fresh,
    more_of,
    rows_of,
)

SEEDS = range(int(os.environ.get("SEEDS", "1")))
QUERIES = sorted({
    query for one in MEASURES for query in (*one.queries, *one.group_wide)
    if (state_of(query) or State("whole")).is_by_wearer
})  # fmt: skip


def begun(site: str, rng: np.random.Generator) -> pl.DataFrame:
    """Return a site's part of a plan that has begun and whose numbers are never reached."""
    return made(OF_SITES_BY_NAME["comparison_plan"], site, 1, rng).with_columns(
        is_begun=pl.lit(value=True), starts_on=pl.lit(date(2025, 1, 1)),
        ends_on=pl.lit(date(2026, 6, 30)), needed_per_arm=pl.lit(1_000_000),
    )  # fmt: skip


class Parted:
    """A made warehouse, and its wearers parted in two."""

    def __init__(self, folder: Path, seed: int) -> None:
        rng = np.random.default_rng(seed)
        sent = {site: rows_of(site, rng) for site in SITES}
        sent = {site: more_of(rows, rows_of(site, rng)) for site, rows in sent.items()}
        for site, rows in sent.items():
            rows["comparison_plan"] = begun(site, rng)
        self.target, copy = folder / "parted.duckdb", folder / "copy.duckdb"
        built(self.target, sent)
        shutil.copy(self.target, copy)
        groups = [(site, group) for site in SITES for group in range(GROUPS)]
        is_first = rng.random(len(groups)) < 0.5
        parts: list[list[tuple[str, str]]] = [[], []]
        for (site, group), first in zip(groups, is_first, strict=True):
            parts[int(first)] += [(site, wearer_of(site, 2 * group + n)) for n in range(2)]
        schema = ["site_id", "wearer_key"]
        self.halves = [WearerRows(pl.DataFrame(p, schema, orient="row"), copy) for p in parts]

    def counts(self, measure: Measure, query: str) -> list[pl.DataFrame]:
        """Return the counts of one query over all wearers, over one half and over the other."""
        later = NAMES[NAMES.index(measure.name) :]
        found = []
        with writer(self.target) as con:
            set_variables(con, DAY, SETTINGS)
            counting = Counting(con, DAY, SETTINGS, fresh())
            counting._make_group_wide(measure, [query], later)
            found.append(counting._run(measure, query, None, later))
            for half in self.halves:
                counting.tables.wearers = half
                counting._sides.clear()
                found.append(counting._run(measure, query, Scope(has_wearers=True), later))
                half.close(con)
            counting.tables.wearers = None
            counting.close()
        return found

    def adds(self, measure: Measure, query: str, keys: tuple[str, ...]) -> bool:
        """Tell whether the counts of both halves give those of all; without any it is an error."""
        known = State("sums", keys, is_by_wearer=True)
        whole, one, other = (state.checked(query, known, f) for f in self.counts(measure, query))
        assert whole.drop(keys).sum().sum_horizontal()[0], query
        with writer(self.target) as con:
            added = state.merged(con, keys, (one, other.clear(), other), "ALL")
            total = state.merged(con, keys, (whole, whole.clear(), whole.clear()), "ALL")
        return added.equals(total)


@pytest.fixture(scope="module", params=SEEDS)
def parted(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Parted:
    return Parted(tmp_path_factory.mktemp("parted"), request.param)


@pytest.mark.parametrize("query", QUERIES)
def test_counts_of_two_halves_of_the_wearers_add_up(parted: Parted, query: str) -> None:
    measure = next(one for one in MEASURES if query in (*one.queries, *one.group_wide))
    known = state_of(query)
    assert known is not None
    assert parted.adds(measure, query, known.keys)


@pytest.mark.parametrize(
    ("claim", "keys"),
    [
        # The first five of a site are others where some wearers are away.
        ("SELECT site_id, sum(cycle_number) AS n FROM (SELECT *, row_number() OVER (PARTITION BY"
         " site_id ORDER BY file_id, line) AS place FROM session_aid) WHERE place <= 5"
         " GROUP BY ALL", ("site_id",)),
        # Days on which anybody came, counted once.
        ("SELECT site_id, count(DISTINCT local_date) AS n FROM session_aid GROUP BY ALL",
         ("site_id",)),
        # A share of the site's rows.
        ("SELECT site_id, count(*) FILTER (WHERE n > 1) AS n FROM (SELECT site_id, count(*) OVER"
         " (PARTITION BY site_id, month) AS n FROM session_aid) GROUP BY ALL", ("site_id",)),
    ],
)  # fmt: skip
def test_a_query_that_counts_over_other_wearers_is_caught(
    parted: Parted, claim: str, keys: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure = next(one for one in MEASURES if "graded_rate" in one.queries)
    texts = recorded._texts()
    monkeypatch.setitem(texts, "graded_rate", claim)
    assert not parted.adds(measure, "graded_rate", keys)


def test_rows_of_both_halves_are_all_rows(parted: Parted) -> None:
    with writer(parted.target) as con:
        for table in BY_WEARER:
            columns = ("site_id", "wearer_key")
            every = sums_by_site(con, f"main.{table}", columns, None)
            told = []
            for one in parted.halves:
                told.append(sums_by_site(con, one.rows(con, table, AFTER), columns, None))
                one.close(con)
            for site, (n, hashes) in every.items():
                pairs = [one.get(site, (0, 0)) for one in told]
                assert (n, hashes) == tuple(map(sum, zip(*pairs, strict=True)))
