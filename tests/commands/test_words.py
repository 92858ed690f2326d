"""What the commands say: names near a wrong one, tables with their meaning, sites by day."""

from pathlib import Path

import duckdb
import pytest

from pipeline.commands import status
from pipeline.commands.main import main
from pipeline.errors import QueryError
from pipeline.warehouse.fence import LOOK_UP, fenced_query


@pytest.fixture
def warehouse(tmp_path: Path) -> Path:
    """A warehouse of one table with its comment."""
    file = tmp_path / "warehouse.duckdb"
    with duckdb.connect(str(file)) as con:
        con.execute("CREATE TABLE session (moisture_ul DOUBLE, cycle_minutes DOUBLE)")
        con.execute("COMMENT ON TABLE session IS 'One row per load.'")
        con.execute("COMMENT ON COLUMN session.moisture_ul IS 'Water read. [µL]'")
    return file


@pytest.mark.parametrize(
    ("sql", "near"),
    [
        ("SELECT moisture FROM session", "moisture_ul."),
        ("SELECT s.moisture FROM session AS s", "moisture_ul."),
        ("SELECT * FROM sessions", "Near it: session."),
    ],
)
def test_a_wrong_name_gets_the_names_near_it(warehouse: Path, sql: str, near: str) -> None:
    with pytest.raises(QueryError) as raised:
        fenced_query(warehouse, sql)
    assert near in str(raised.value.found)
    assert raised.value.todo == LOOK_UP


def test_other_failures_keep_their_first_line_alone(warehouse: Path) -> None:
    with pytest.raises(QueryError) as raised:
        fenced_query(warehouse, "SELECT 'a'::INT FROM session UNION ALL SELECT 'a'::INT")
    assert "Near it" not in str(raised.value)
    assert raised.value.todo is None


def test_a_table_is_told_with_what_a_row_is(
    warehouse: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tables", "session", "--store", str(warehouse.parent)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("session: One row per load.\n")
    assert "Water read. [µL]" in said


def test_sites_stand_by_the_day_of_their_last_session() -> None:
    fresh = [
        {"site_id": "a", "last_session_on": "2026-06-30"},
        {"site_id": "b", "last_session_on": "2026-03-02"},
        {"site_id": "c", "last_session_on": "2026-06-30"},
        {"site_id": "d", "last_session_on": None},
    ]
    chambers = [
        {"site_id": "a", "dryer_id": "1", "standing": "never_checked", "last_checked_on": None}
    ]
    state = {"run_id": "r", "as_of": "2026-07-01", "is_demo": False, "live_files": 1,
             "freshness": fresh, "files": [], "chambers": chambers, "faults": [],
             "to_do": []}  # fmt: skip
    told = "\n".join(status._told(state))
    assert "  none  d\n  2026-03-02  b\n  2026-06-30  a, c\n" in told
    assert "  a 1: never checked\n" in told
