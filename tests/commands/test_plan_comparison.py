"""Planning a comparison from a store, and the plan's way into the warehouse."""

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.errors import StoreError
from pipeline.settings import Settings
from pipeline.store.layout import Store
from pipeline.store.plan import plan_digest, plan_rows
from pipeline.warehouse.build import build_warehouse
from tests.measures.routine_drying.test_routine_drying import NAMES, comparison
from tests.measures.small_warehouse import insert, run, warehouse
from tests.warehouse.parts import ask


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A warehouse that holds a comparison at one site."""
    target = tmp_path_factory.mktemp("measured") / "warehouse.duckdb"
    con = warehouse()
    insert(con, "session_aid", comparison(per_week=60, better=1))
    insert(con, "site", [{"site_id": "site-01", "last_local_date": date(2026, 6, 21)}])
    run(con, wanted=NAMES)
    con.execute(f"ATTACH '{target}' AS kept")
    con.execute("COPY FROM DATABASE memory TO kept")
    con.close()
    return target


@pytest.fixture
def store(tmp_path: Path, measured: Path) -> Store:
    """A store with a copy of that warehouse."""
    made = Store(tmp_path / "store")
    made.prepare()
    shutil.copyfile(measured, made.warehouse)
    return made


def plan(store: Store, *more: str) -> int:
    return main(["plan-comparison", "--store", str(store.folder), *more])


def test_a_plan_is_recorded_once_and_reaches_the_warehouse(store, tmp_path, capsys):
    assert plan(store, "--dry-run", "--seed", "5") == 0
    assert "Protocol" in capsys.readouterr().out
    assert not store.plan.exists()
    assert plan_digest(store) == ""
    assert plan(store, "--seed", "5", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["is_recorded"]
    assert told["starts_on"] > datetime.now(UTC).date().isoformat()
    assert date.fromisoformat(told["starts_on"]).weekday() == 0
    assert told["expected_per_arm"] >= told["needed_per_arm"] > 0
    assert told["needed_per_arm"] == max(told["needed_for_benefit"], told["needed_for_safety"])
    # 720 cleaned-only aids were seen and none stopped.
    assert (told["background_stopped"], told["is_background_assumed"]) == (0, False)
    assert told["number_of_weeks"] >= 20  # ten clusters an arm at one site
    rows = plan_rows(store)
    assert len(rows) == told["number_of_weeks"]
    assert {row["treatment"] for row in rows} == {"dried", "cleaned_only"}
    target = tmp_path / "next.duckdb"
    build_warehouse(target, [], as_of=date(2026, 7, 1), settings=Settings(), plan=rows)
    found = ask(
        target,
        "SELECT count(*), min(needed_per_arm), min(seed), min(worthwhile_net_benefit),"
        " min(net_confidence) FROM comparison_plan",
    )
    assert found == [(len(rows), told["needed_per_arm"], "5", 0.05, 0.99)]
    first = plan_digest(store)
    assert plan(store) == 2
    assert "a plan was recorded on" in capsys.readouterr().err
    assert plan(store, "--replace", "--seed", "6") == 0
    assert plan_digest(store) != first
    assert len(json.loads(store.plan.read_text())["earlier"]) == 1


def test_a_plan_recorded_before_levels_were_has_none(store, tmp_path):
    assert plan(store, "--seed", "5") == 0
    content = json.loads(store.plan.read_text())
    del content["net_confidence"]
    store.plan.write_text(json.dumps(content))
    rows = plan_rows(store)
    assert {row["net_confidence"] for row in rows} == {None}
    target = tmp_path / "next.duckdb"
    build_warehouse(target, [], as_of=date(2026, 7, 1), settings=Settings(), plan=rows)
    assert ask(target, "SELECT DISTINCT net_confidence FROM comparison_plan") == [(None,)]


def test_a_plan_has_begun_from_its_first_day(store, tmp_path):
    assert plan(store, "--seed", "5") == 0
    rows = plan_rows(store)
    first = date.fromisoformat(rows[0]["starts_on"])
    for days, is_begun in ((-1, False), (0, True), (1, True)):
        target = tmp_path / f"{days}.duckdb"
        day = first + timedelta(days)
        build_warehouse(target, [], as_of=day, settings=Settings(), plan=rows)
        assert ask(target, "SELECT DISTINCT is_begun FROM comparison_plan") == [(is_begun,)]


def test_safety_is_planned_for_and_told(store, capsys):
    sizes = {}
    for share in ("0", "0.003", "0.01"):
        assert plan(store, "--dry-run", "--json", "--background", share, "--benefit", "0.3") == 0
        told = json.loads(capsys.readouterr().out)
        sizes[share] = told["needed_for_safety"]
        assert told["needed_per_arm"] >= told["needed_for_safety"]
    assert sizes["0"] < sizes["0.003"] < sizes["0.01"]
    assert [share for share, _ in told["needed_by_background"]] == [0, 0.003, 0.005, 0.01]
    assert plan(store, "--dry-run") == 0
    text = capsys.readouterr().out
    assert "stops more than 1 in 100 aids" in text
    assert "Let the aid cool" in text
    assert "re-seat it" in text
    assert "Dry on request" in text
    assert "ethics" in text
    assert plan(store, "--dry-run", "--background", "0.2") == 2
    assert "would take" in capsys.readouterr().err


@pytest.mark.parametrize(
    "more",
    [
        ("--sites", "site-02"), ("--weeks", "9"), ("--benefit", "0.05"), ("--power", "0.3"),
        ("--start", "2020-01-06"), ("--seed", "-1"), ("--weeks", "400"), ("--background", "0.21"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned(store, more):
    assert plan(store, *more) == 2
    assert not store.plan.exists()


def test_a_start_that_is_no_monday_is_refused(store):
    day = datetime.now(UTC).date() + timedelta(7)
    tuesday = day + timedelta((1 - day.weekday()) % 7)
    assert plan(store, "--start", tuesday.isoformat()) == 2


def test_a_damaged_plan_is_named(store):
    store.plan.write_text("{}")
    with pytest.raises(StoreError, match=r"comparison_plan\.json"):
        plan_rows(store)
