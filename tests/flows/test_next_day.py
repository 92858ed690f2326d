"""A night on which only the day moved: little is computed, and all is as if it had been."""

import hashlib
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands.main import main
from pipeline.store.layout import Store
from pipeline.store.plan import write_plan
from pipeline.warehouse.fence import fenced_query
from tests.flows.line import ROW, SITE, Line, measure_only, sessions

OF_THE_RUN = ("refresh_run", "measure_run", "refresh_change")
MEASURED = ("rescue_rate", "routine_drying", "site_comparison", "attention_item", "time_to_failure")


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    measure_only(monkeypatch, *MEASURED)
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b", "site_name": "Other"}])
    made.write("reference/dryers.csv", [
        {"site_id": site, "dryer_id": "D1"} for site in ("site-a", "site-b")
    ])  # fmt: skip
    for site in ("site-a", "site-b"):
        for month in (1, 2):
            rows = [row | {"session_id": f"{month}-{row['session_id']}"} for row in sessions(40)]
            made.write(f"{site}/sessions_2026-0{month}.csv", rows)
    checks = [
        {"dryer_id": "D1", "checked_at": f"2026-0{month}-02", "dose_ul": "10", "reading_ul": "10.2"}
        for month in (1, 2, 3, 4, 5)
    ]
    made.write("site-a/dose_checks_2026.csv", checks)
    return made


def tables_of(store: Path) -> dict[str, str]:
    """Return a hash of each table's rows in order, without what names the run."""
    warehouse = store / "warehouse.duckdb"
    listed = fenced_query(warehouse, "SELECT DISTINCT table_name FROM information_schema.tables")
    found = {}
    for (name,) in listed.rows:
        if name in OF_THE_RUN:
            continue
        columns = fenced_query(
            warehouse,
            "SELECT column_name FROM information_schema.columns WHERE table_name ="
            f" '{name}' AND column_name NOT IN ('run_id', 'since_run', 'first_seen_run')"
            " ORDER BY 1",
        ).rows
        told = ", ".join(f'"{column}"' for (column,) in columns)
        rows = fenced_query(warehouse, f'SELECT {told} FROM "{name}"', most_rows=100_000).rows
        found[name] = hashlib.sha256("\n".join(sorted(map(repr, rows))).encode()).hexdigest()
    return found


def as_from_nothing(line: Line, day: str, capsys: pytest.CaptureFixture[str]) -> dict[str, str]:
    """Return the tables of a new store refreshed from the same exports on a day."""
    other = line.store.with_name("other")
    line.store, kept = other, line.store
    line.refresh(capsys, "--as-of", day)
    line.store = kept
    found = tables_of(other)
    for path in sorted(other.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    return found


def computed(line: Line) -> dict[str, int]:
    """Return the number of the run that computed each measure."""
    rows = line.ask("SELECT measure, left(run_id, 6)::INT FROM measure_run")
    return dict(rows)  # type: ignore[arg-type]


def test_the_next_day_computes_what_depends_on_it_alone(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    _, told = line.refresh(capsys, "--as-of", "2026-07-02")
    assert (told["nothing_new"], told["is_day_alone"]) == (False, True)
    runs = computed(line)
    assert runs["dryer_calibration"] == 2
    assert {runs[name] for name in ("rescue_rate", "time_to_failure", "routine_drying")} == {1}
    assert tables_of(line.store) == as_from_nothing(line, "2026-07-02", capsys)


def test_a_new_file_the_next_day_gives_what_a_first_run_gives(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    late = [
        row | {"session_id": f"L{row['session_id']}", "started_at": "2026-07-05T10:00"}
        for row in sessions(2)
    ]
    line.write("site-b/sessions_2026-07.csv", late)
    line.refresh(capsys, "--as-of", "2026-07-02")  # its rows are in the future still
    line.write("site-a/sessions_2026-03.csv", [ROW | {"session_id": "late"}])
    _, told = line.refresh(capsys, "--as-of", "2026-07-03")
    assert told["is_day_alone"] is False
    assert tables_of(line.store) == as_from_nothing(line, "2026-07-03", capsys)
    _, told = line.refresh(capsys, "--as-of", "2026-07-04")  # a day ahead is no future
    assert line.ask("SELECT count(*) FROM session_aid WHERE local_date = '2026-07-05'") == [(2,)]
    assert tables_of(line.store) == as_from_nothing(line, "2026-07-04", capsys)


def test_a_reference_table_changed_on_a_later_day_is_read_anew(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    line.refresh(capsys)
    line.refresh(capsys, "--as-of", "2026-07-02")
    line.write("reference/dryers.csv", [
        {"site_id": site, "dryer_id": "D1", "detection_limit_ul": "3"}
        for site in ("site-a", "site-b")
    ])  # fmt: skip
    line.refresh(capsys, "--as-of", "2026-07-03")
    files = {"row_account", "export_file"}  # the version before is told of there alone
    found, wanted = tables_of(line.store), as_from_nothing(line, "2026-07-03", capsys)
    assert {n for n, told in found.items() if told != wanted[n]} == files


def test_a_plan_begins_on_its_day_though_nothing_else_changed(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    week = {"site_id": "site-a", "week_starts_on": "2026-07-03", "treatment": "dry"}
    common = {
        "recorded_on": "2026-06-20", "starts_on": "2026-07-03", "ends_on": "2026-09-01",
        "needed_per_arm": 100, "main_outcome": "rescued", "assumed_net_benefit": 0.1, "seed": 1,
        "worthwhile_net_benefit": 0.05, "net_confidence": 0.9,
    }  # fmt: skip
    line.store.mkdir(parents=True)
    write_plan(Store(line.store), common | {"weeks": [week]})
    begun = "SELECT is_begun FROM comparison_plan"
    for day, is_begun in (("2026-07-01", False), ("2026-07-02", False), ("2026-07-03", True)):
        line.refresh(capsys, "--as-of", day)
        assert line.ask(begun) == [(is_begun,)]


def test_settings_code_and_a_rebuild_compute_anew(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    line.refresh(capsys)
    (line.store / "drytally.toml").write_text("confidence_level = 0.9\n")
    _, told = line.refresh(capsys)
    assert told["is_day_alone"] is False
    assert set(computed(line).values()) == {2}
    monkeypatch.setattr("pipeline.warehouse.carry.code_digest", lambda: "other code")
    line.refresh(capsys, "--as-of", "2026-07-02")
    assert set(computed(line).values()) == {3}
    capsys.readouterr()
    assert main(["rebuild", "--store", str(line.store)]) == 0
    assert "No row is new" not in capsys.readouterr().out
    assert set(computed(line).values()) == {4}


def test_a_night_without_a_new_file_starts_no_prefect(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)

    def started(*_: Any) -> None:
        raise AssertionError("Prefect was started")

    line.refresh(capsys)
    monkeypatch.setattr("pipeline.flows.run_flow", started)
    night = ["refresh", str(line.exports), "--store", str(line.store), "--as-of", "2026-07-02"]
    assert main(night) in {0, 3}
    line.write("site-a/sessions_2026-03.csv", [ROW | {"session_id": "late"}])
    monkeypatch.setattr("pipeline.commands.refresh.FEW_BYTES", 0)
    assert main(night) == 1
    assert "AssertionError" in capsys.readouterr().err


def test_a_measure_that_failed_is_tried_again(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> Any:
        raise ZeroDivisionError

    with monkeypatch.context() as broken:
        broken.setattr("pipeline.warehouse.measure.inputs_digest", fail)
        capsys.readouterr()
        main(["refresh", str(line.exports), "--store", str(line.store), "--plain",
              "--as-of", "2026-07-01"])  # fmt: skip
    assert set(line.ask("SELECT DISTINCT problem FROM measure_run")) == {("ZeroDivisionError",)}
    line.refresh(capsys, "--as-of", "2026-07-02")
    assert set(line.ask("SELECT DISTINCT problem FROM measure_run")) == {(None,)}
    assert tables_of(line.store) == as_from_nothing(line, "2026-07-02", capsys)
