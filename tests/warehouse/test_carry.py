"""What a measure rests on, as hashes: equal where nothing changed, and only there."""

from datetime import date

import duckdb
import polars as pl
import pytest

from pipeline.measures.catalogue import MEASURES
from pipeline.settings import Settings
from pipeline.warehouse import carry
from pipeline.warehouse.table_sums import Tables, digest_of
from schemas.facts.catalogue import FACTS
from tests.measures.small_warehouse import insert, warehouse

BY_NAME = {measure.name: measure for measure in MEASURES}
DIGEST = Settings().digest
DAY, NEXT = date(2026, 7, 1), date(2026, 7, 2)


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    con = warehouse()
    insert(con, "session_aid", [
        {"site_id": site, "dryer_id": "D1", "device_key": "A1", "line": line, "file_id": site}
        for site in ("site-a", "site-b") for line in (2, 3)
    ])  # fmt: skip
    return con


def digest(con: duckdb.DuckDBPyConnection, name: str, day: date = DAY, **more: object) -> str:
    tables = Tables(unfilled=carry.filled_columns(MEASURES))
    later = more.get("later", (name,))
    return carry.inputs_digest(con, BY_NAME[name], tables, later, DIGEST, day)


def test_a_table_s_hash_knows_rows_and_no_order() -> None:
    con = duckdb.connect()
    values = "(1, 'a', 0.5), (2, NULL, 1.5), (2, NULL, 1.5)"
    con.execute(f"CREATE TABLE one AS FROM (VALUES {values}) AS v(k, word, x)")
    con.execute("CREATE TABLE two AS FROM one ORDER BY k DESC")
    con.execute("CREATE TABLE once AS SELECT DISTINCT * FROM one")
    con.execute("CREATE TABLE moved AS SELECT k, word, x + 1e-15 AS x FROM one")
    con.execute("CREATE TABLE named AS SELECT k, word AS words, x FROM one")
    hashes = [digest_of(con, name) for name in ("one", "two", "once", "moved", "named")]
    assert hashes[0] == hashes[1]
    assert len(set(hashes)) == 4
    assert digest_of(con, "moved", {"x"}) == digest_of(con, "one", {"x"})


def test_rows_of_two_sites_with_the_same_ids_are_not_one(con: duckdb.DuckDBPyConnection) -> None:
    before = digest(con, "rescue_rate")
    con.execute("UPDATE session_aid SET site_id = 'site-b' WHERE site_id = 'site-a'")
    assert digest(con, "rescue_rate") != before


def test_only_what_reads_the_day_depends_on_it(con: duckdb.DuckDBPyConnection) -> None:
    assert digest(con, "rescue_rate", NEXT) == digest(con, "rescue_rate")
    assert digest(con, "dryer_calibration", NEXT) != digest(con, "dryer_calibration")


def test_a_fact_that_a_measure_does_not_name_is_nothing_to_it(
    con: duckdb.DuckDBPyConnection,
) -> None:
    before = digest(con, "chamber_carry_over"), digest(con, "dryer_calibration")
    insert(con, "dose_check", [{"site_id": "site-a", "dryer_id": "D1", "dose_ul": 1.0}])
    after = digest(con, "chamber_carry_over"), digest(con, "dryer_calibration")
    assert after[0] == before[0]
    assert after[1] != before[1]


def test_filled_columns_count_once_they_are_filled(con: duckdb.DuckDBPyConnection) -> None:
    tables = Tables(unfilled=carry.filled_columns(MEASURES))
    before = tables.of(con, "session_aid")
    con.execute("UPDATE session_aid SET measured_change = 'improved'")
    tables.known.clear()
    assert tables.of(con, "session_aid") == before
    tables.written("measurement_repeatability", ["session_aid"])
    assert tables.of(con, "session_aid") != before


def test_filled_columns_are_read_from_their_statements() -> None:
    found = carry.filled_columns(MEASURES)
    assert found == {
        "session_aid": {
            "hfa_gain_change", "hfa_ospl90_change", "thd_change", "measured_change",
            "is_any_positive_change", "change_basis", "worst_change_ratio",
        }
    }  # fmt: skip
    assert found["session_aid"] <= FACTS["session_aid"].to_schema().columns.keys()
    assert sum(bool(measure.fills) for measure in MEASURES) == 1


def test_settings_and_counts_decide_an_inference() -> None:
    con = duckdb.connect()
    frame = pl.DataFrame({"n": [3, 5], "word": ["a", None]})
    base = carry.counts_digest(con, {"q": frame}, DIGEST)
    assert carry.counts_digest(con, {"q": frame.reverse()}, DIGEST) == base
    assert carry.counts_digest(con, {"r": frame}, DIGEST) != base
    assert carry.counts_digest(con, {"q": frame.with_columns(pl.col("n") + 1)}, DIGEST) != base
    assert carry.counts_digest(con, {"q": frame}, "another") != base
