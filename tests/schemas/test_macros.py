"""The warehouse's macros against SciPy, published limits and a small catalogue."""

import math
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
from scipy.stats import binomtest, norm

from schemas import macros

COUNTS = [(k, n) for n in (1, 2, 3, 10, 29, 148, 263, 10_000) for k in {0, 1, n // 3, n - 1, n}]
# Newcombe 1998, Stat Med 17:873-890, Table II, method 10: x1/n1, x2/n2, 95 % limits.
DIFFERENCES = [
    (56, 70, 48, 80, 0.0524, 0.3339),
    (9, 10, 3, 10, 0.1705, 0.8090),
    (6, 7, 2, 7, 0.0582, 0.8062),
    (5, 56, 0, 29, -0.0381, 0.1926),
    (0, 10, 0, 20, -0.1611, 0.2775),
]
# Newcombe 1998, Stat Med 17:857-872, Table I, method 3: x/n, 95 % limits.
RATES = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    connection = duckdb.connect(":memory:", config={"threads": 1})
    for statement in macros.statements(11):
        connection.execute(statement)
    yield connection
    connection.close()


def one(con: duckdb.DuckDBPyConnection, expression: str) -> object:
    return con.execute(f"SELECT {expression}").fetchone()[0]  # type: ignore[index]


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_wilson_agrees_with_scipy(con: duckdb.DuckDBPyConnection, level: float) -> None:
    z = float(norm.ppf(0.5 + level / 2))
    for k, n in COUNTS:
        limits = binomtest(k, n).proportion_ci(level, method="wilson")
        low = one(con, f"wilson_low({k}, {n}, z := {z!r}::DOUBLE)")
        high = one(con, f"wilson_high({k}, {n}, z := {z!r}::DOUBLE)")
        assert low == pytest.approx(limits.low, abs=1e-12)
        assert high == pytest.approx(limits.high, abs=1e-12)


@pytest.mark.parametrize(("k", "n", "low", "high"), RATES)
def test_wilson_gives_the_published_limits(
    con: duckdb.DuckDBPyConnection, k: int, n: int, low: float, high: float
) -> None:
    assert one(con, f"wilson_low({k}, {n})") == pytest.approx(low, abs=5e-5)
    assert one(con, f"wilson_high({k}, {n})") == pytest.approx(high, abs=5e-5)


def test_wilson_is_exact_at_the_ends(con: duckdb.DuckDBPyConnection) -> None:
    for n in range(1, 400):
        assert one(con, f"wilson_low(0, {n})") == 0.0
        assert one(con, f"wilson_high({n}, {n})") == 1.0


@pytest.mark.parametrize("counts", ["0, 0", "NULL, 5", "3, NULL", "-1, 5", "6, 5", "0, -1"])
def test_wilson_is_null_where_there_is_no_estimate(
    con: duckdb.DuckDBPyConnection, counts: str
) -> None:
    assert one(con, f"wilson_low({counts})") is None
    assert one(con, f"wilson_high({counts})") is None


def test_wilson_does_not_decrease_in_k(con: duckdb.DuckDBPyConnection) -> None:
    for name in ("wilson_low", "wilson_high"):
        rows = con.execute(f"SELECT {name}(k, 57) FROM range(58) AS r (k) ORDER BY k").fetchall()
        values = [value for (value,) in rows]
        assert values == sorted(values)


@pytest.mark.parametrize("kind", ["BIGINT", "DOUBLE", "HUGEINT", "INTEGER"])
def test_wilson_takes_every_kind_of_number(con: duckdb.DuckDBPyConnection, kind: str) -> None:
    assert one(con, f"wilson_low(81::{kind}, 263::{kind})") == pytest.approx(0.2553, abs=5e-5)
    assert one(con, f"typeof(wilson_low(81::{kind}, 263::{kind}))") == "DOUBLE"


@pytest.mark.parametrize("published", DIFFERENCES)
def test_difference_gives_the_published_limits(
    con: duckdb.DuckDBPyConnection, published: tuple[float, ...]
) -> None:
    *counts, low, high = published
    given = ", ".join(str(count) for count in counts)
    assert one(con, f"difference_low({given})") == pytest.approx(low, abs=5e-5)
    assert one(con, f"difference_high({given})") == pytest.approx(high, abs=5e-5)


@pytest.mark.parametrize("counts", ["0, 0, 3, 5", "3, 5, 0, 0", "NULL, 5, 3, 5"])
def test_difference_is_null_without_both_groups(
    con: duckdb.DuckDBPyConnection, counts: str
) -> None:
    assert one(con, f"difference_low({counts})") is None
    assert one(con, f"difference_high({counts})") is None


def test_a_rate_in_words(con: duckdb.DuckDBPyConnection) -> None:
    assert one(con, "rate_text(81, 263)") == "30.8 % (25.5 to 36.6 %), 81 of 263"
    assert one(con, "rate_text(0, 0)") == one(con, "rate_text(NULL, NULL)") == "no estimate"


@pytest.mark.parametrize(
    ("cell", "is_small"),
    [
        ("0, 40, 30", False),
        ("1, 40, 30", True),
        ("10, 40, 30", True),
        ("11, 40, 30", False),
        ("30, 40, 30", True),
        ("29, 40, 30", False),
        ("40, 40, 30", False),
        ("20, 40, 10", True),
        ("20, 40, 11", False),
        ("4, 40, 30, smallest := 5", True),
        ("5, 40, 30, smallest := 5", False),
    ],
)
def test_small_cells(con: duckdb.DuckDBPyConnection, cell: str, *, is_small: bool) -> None:
    assert one(con, f"is_small_cell({cell})") is is_small


def test_the_dictionary_tells_tables_views_columns_and_macros(
    con: duckdb.DuckDBPyConnection,
) -> None:
    con.execute("CREATE TABLE load (z_ul DOUBLE, a INTEGER)")
    con.execute("COMMENT ON TABLE load IS 'One row per load.'")
    con.execute("COMMENT ON COLUMN load.z_ul IS 'Water. [µL]'")
    con.execute("CREATE VIEW wet AS SELECT z_ul FROM load")
    con.execute("CREATE TEMP TABLE aside (z_ul DOUBLE)")
    found = con.execute("FROM dictionary('%')").fetchall()
    assert [row for row in found if row[0] == "load"] == [
        ("load", None, "table", "One row per load."),
        ("load", "z_ul", "DOUBLE", "Water. [µL]"),
        ("load", "a", "INTEGER", None),
    ]
    assert ("wet", None, "view", None) in found
    assert not [row for row in found if row[0] == "aside"]
    told = {row[0] for row in found if row[2] == "macro"}
    assert told == {macro.name for macro in macros.MACROS}
    assert con.execute("FROM dictionary('%µL%')").fetchall() == [
        ("load", "z_ul", "DOUBLE", "Water. [µL]")
    ]
    assert con.execute("FROM dictionary()").fetchall() == found


def test_macros_last_in_a_file_and_can_be_made_again(tmp_path: Path) -> None:
    file = tmp_path / "made.duckdb"
    for _ in range(2):
        with duckdb.connect(str(file)) as connection:
            for statement in macros.statements(11):
                connection.execute(statement)
    with duckdb.connect(str(file), read_only=True) as connection:
        assert math.isclose(connection.execute("SELECT wilson_high(0, 1)").fetchone()[0], 0.7935,
                            abs_tol=5e-5)  # fmt: skip
        told = connection.execute("SELECT count(*) FROM dictionary('wilson%')").fetchone()
        assert told == (2,)


def test_the_smallest_cell_is_the_setting_unless_told() -> None:
    with duckdb.connect(":memory:", config={"threads": 1}) as connection:
        for statement in macros.statements(5):
            connection.execute(statement)
        assert one(connection, "is_small_cell(4, 40, 30)") is True
        assert one(connection, "is_small_cell(5, 40, 30)") is False
        assert one(connection, "is_small_cell(5, 40, 30, smallest := 6)") is True
    macro = next(macro for macro in macros.MACROS if macro.name == "is_small_cell")
    assert macro.signature.endswith("smallest := setting smallest_cell)")


def test_macros_are_described() -> None:
    assert len({macro.name for macro in macros.MACROS}) == len(macros.MACROS)
    for macro in macros.MACROS:
        assert macro.description.endswith("."), macro.name


@pytest.mark.parametrize("macro", macros.MACROS, ids=lambda macro: macro.name)
def test_a_macros_example_uses_it_and_runs(
    con: duckdb.DuckDBPyConnection, macro: macros.Macro
) -> None:
    assert f"{macro.name}(" in macro.example
    con.execute("CREATE TABLE visit (delay_band VARCHAR)")
    assert con.sql(macro.example).fetchall()


def test_the_dictionary_finds_a_word_without_a_pattern(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("CREATE TABLE visit (hours_of_delay DOUBLE, other DOUBLE)")
    con.execute("COMMENT ON COLUMN visit.other IS 'Share at 50 % of the Delay'")
    columns = {row[1] for row in con.sql("FROM dictionary('delay')").fetchall()}
    assert {"hours_of_delay", "other"} <= columns
    assert con.sql("FROM dictionary('delay%')").fetchall() == []
    assert con.sql("FROM dictionary('%of_delay')").fetchall()[0][1] == "hours_of_delay"
