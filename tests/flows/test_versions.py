"""File versions: any order gives the same rows, and a small change the same as a whole build."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.commands.main import main
from tests.flows.line import MEASURES, SITE, Line, measure_only, sessions

FACTS = ("session_aid", "session", "episode", "device")


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    """An empty exports folder; no measure is computed, since rows alone are looked at."""
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    return Line(tmp_path)


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Line]:
    """A store that holds twelve sessions and the rates of them."""
    folder = tmp_path_factory.mktemp("loaded")
    made = Line(folder)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    with pytest.MonkeyPatch.context() as patch:
        measure_only(patch, "rescue_rate")
        patch.setenv("DRYTALLY_KEY_FILE", str(folder / "conf" / "identifier.key"))
        given = ["refresh", str(made.exports), "--store", str(made.store), "--plain"]
        assert main([*given, "--as-of", "2026-07-01"]) == 0
        yield made


def rows(line: Line, *tables: str) -> dict[str, list[tuple[object, ...]]]:
    return {name: line.ask(f"SELECT * FROM {name} ORDER BY ALL") for name in tables}


def two_sites(line: Line) -> None:
    other = SITE | {"site_id": "site-b", "site_name": "Made Up Too"}
    line.write("reference/sites.csv", [SITE, other])
    dryers = [{"site_id": s, "dryer_id": "D1"} for s in ("site-a", "site-b")]
    line.write("reference/dryers.csv", dryers)
    line.write("site-b/sessions_2026-01.csv", sessions(400))
    line.write("site-a/sessions_2026-01.csv", sessions(300))


def test_a_small_change_gives_the_rows_of_a_whole_build(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    two_sites(line)
    line.refresh(capsys)
    measure_only(monkeypatch, *MEASURES)
    more = [row | {"session_id": "T" + row["session_id"]} for row in sessions(12)]
    line.write("site-a/sessions_2026-02.csv", more)
    line.refresh(capsys)
    grown = rows(line, *FACTS, *MEASURES)
    assert len(grown["session_aid"]) == 712
    assert main(["rebuild", "--store", str(line.store)]) == 0
    assert rows(line, *FACTS, *MEASURES) == grown


def test_a_duplicate_and_a_conflict_count_once(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    first = sessions(20)
    again = [first[0], first[1] | {"condition_after": "dead"}]
    line.write("site-a/sessions_2026-01.csv", first)
    line.write("site-a/sessions_2026-02.csv", again)
    _, outcome = line.refresh(capsys)
    assert outcome["totals"]["duplicate"] == 2
    assert line.ask("SELECT count(*) FROM session_aid") == [(20,)]
    listed = "SELECT rule, count(*) FROM quarantined_row GROUP BY rule ORDER BY rule"
    assert line.ask(listed) == [("conflicting_duplicate", 1), ("duplicate", 1)]


def test_rows_counted_before_and_quarantined_now_are_withdrawn_and_counted(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two rows lose their style; a third was quarantined in both versions."""
    first = sessions(20)
    first[5] |= {"condition_before": "deaf"}
    line.write("site-a/sessions_2026-01.csv", first)
    _, outcome = line.refresh(capsys)
    assert [row["withdrawn"] for row in outcome["files"] if row["table"] == "sessions"] == [0]
    second = [dict(row) for row in first]
    second[3]["device_style"] = second[4]["device_style"] = ""
    line.write("site-a/sessions_2026-01.csv", second)
    code, outcome = line.refresh(capsys)
    assert code == 3
    account = "SELECT quarantined, withdrawn FROM row_account WHERE is_live AND site_id = 'site-a'"
    assert line.ask(account + " AND table_name = 'sessions'") == [(3, 2)]


def test_an_unknown_chamber_waits_and_enters_by_itself(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.write("site-a/sessions_2026-01.csv", sessions(12, dryer_id="D2"))
    code, outcome = line.refresh(capsys)
    assert (code, outcome["totals"]["quarantined"]) == (3, 12)
    both = [{"site_id": "site-a", "dryer_id": name} for name in ("D1", "D2")]
    line.write("reference/dryers.csv", both)
    code, outcome = line.refresh(capsys)
    assert (code, outcome["totals"]["quarantined"]) == (0, 0)
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]


def test_a_run_killed_before_its_rename_leaves_the_old_warehouse(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.warehouse import publish

    line.write("site-a/sessions_2026-01.csv", sessions(12))
    line.refresh(capsys)
    line.write("site-a/sessions_2026-01.csv", sessions(15))

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(publish, "publish", killed)
        assert line.refresh(capsys)[0] == 1
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]
    assert line.refresh(capsys)[0] == 0
    assert line.ask("SELECT count(*) FROM session_aid") == [(15,)]
    assert list(line.store.glob("next-*")) == []


def test_a_damaged_warehouse_is_named_and_rebuilt(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.write("site-a/sessions_2026-01.csv", sessions(12))
    line.refresh(capsys)
    (line.store / "warehouse.duckdb").write_bytes(b"not a warehouse" * 999)
    assert main(["query", "select 1", "--store", str(line.store)]) == 1
    assert "drytally rebuild" in capsys.readouterr().err
    assert main(["rebuild", "--store", str(line.store)]) == 0
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]


@pytest.mark.parametrize(
    "sql",
    [
        "select * from read_csv('/etc/hostname')",
        "copy site to '/tmp/never.csv'",
        "attach '/tmp/never.db'",
        "install httpfs",
        "set enable_external_access = true",
        "select 1; select 2",
        "select getenv('HOME')",
        "delete from site",
    ],
)
def test_the_fence_refuses(loaded: Line, capsys: pytest.CaptureFixture[str], sql: str) -> None:
    capsys.readouterr()
    assert main(["query", sql, "--store", str(loaded.store)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("drytally: ")


def test_an_event_of_a_chamber_named_at_two_sites_waits_until_it_says_whose(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    two_sites(line)
    event = {"dryer_id": "D1", "occurred_on": "2026-01-05", "event": "serviced"}
    line.write("reference/dryer_events.csv", [event])
    code, outcome = line.refresh(capsys)
    assert (code, outcome["totals"]["quarantined"]) == (3, 1)
    assert line.ask("SELECT rule FROM quarantined_row") == [("chamber_named_once",)]
    line.write("reference/dryer_events.csv", [{"site_id": "site-b"} | event])
    code, outcome = line.refresh(capsys)
    assert outcome["totals"]["quarantined"] == 0
    assert line.ask("SELECT site_id FROM dryer_event") == [("site-b",)]
