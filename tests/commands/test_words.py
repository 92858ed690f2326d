"""What the commands say: names near a wrong one, tables with their meaning, sites by day."""

from datetime import timedelta
from pathlib import Path

import duckdb
import pytest

from pipeline.commands import demo, status
from pipeline.commands.main import main
from pipeline.errors import QueryError
from pipeline.warehouse.fence import LOOK_UP, fenced_query
from sample_data.generate import LAST_DAY


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
    state = {"run_id": "r", "as_of": "2026-07-01", "is_demo": False, "live_files": 1,
             "freshness": fresh, "files": [], "attention": [], "faults": [],
             "to_do": []}  # fmt: skip
    told = "\n".join(status._told(state))
    assert "  none  d\n  2026-03-02  b\n  2026-06-30  a, c\n" in told
    assert "Needs attention" not in told


def test_the_demo_says_on_which_day_its_ages_are_reckoned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: dict[str, object] = {}

    def instead(_store: object, _found: object, **more: object) -> dict[str, object]:
        asked.update(more)
        return {"seconds": {}}

    monkeypatch.setattr(demo, "refresh", instead)
    monkeypatch.setattr(demo, "told", lambda _outcome, most: f"at most {most}")
    assert main(["demo", "--into", str(tmp_path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "They end on 2026-06-30; ages and overdue checks are reckoned as of 2026-07-01" in said
    assert asked["as_of"] == LAST_DAY + timedelta(days=1)
