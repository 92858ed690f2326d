"""Each recipe of "How to add", told to a copy of the project: what is added arrives where it is
read."""

import fcntl
import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pytest

from tests.flows.line import SITE, Line, sessions
from tests.recipes.applied import ROOT, Insert, Recipe, apply, copied
from tests.recipes.recipes import COLUMN, RECIPES

# Told in "How to add" without a recipe of its own: part of another, or held by tests beside it.
PARTS = {
    "how a table is shared", "an outcome of a condition", "a number that a setting gives",
    "a form", "how a mark carries its row", "a column of the first page's matrix",
    "a part of a site's page",
}  # fmt: skip
MAPPING = '[visit_counts]\nzero_words = ["none"]\n'
VISITS = """month,visit_reason,aids_seen,dead_seen,weak_seen,loaners_given
2026-03,battery_change,20,none,1,4
2026-04,follow_up,10,1,1,12
2019-12,follow_up,5,0,0,0
"""
EMPTY = "month,visit_reason,aids_seen\n2026-05,follow_up,\n2026-05,other,4\n"


@dataclass(frozen=True)
class Made:
    """The copy with every recipe applied, and what its commands made and said."""

    copy: Path
    folder: Path
    told: dict

    def ask(self, sql: str) -> list[tuple]:
        with duckdb.connect(str(self.folder / "store" / "warehouse.duckdb"), read_only=True) as con:
            return con.sql(sql).fetchall()

    def page(self, name: str) -> str:
        return (self.folder / "dashboards" / name).read_text(encoding="utf-8")

    def dictionary(self) -> str:
        return (self.copy / "DATA_DICTIONARY.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """One copy, one small store, one process for all recipes; the first worker makes them."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "recipes"
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "told.json").exists():
            make(folder)
    told = json.loads((folder / "told.json").read_text(encoding="utf-8"))
    outcome = json.loads(told["refresh"])
    assert not outcome["not_made"], outcome["not_made"]
    return Made(folder / "project", folder, told)


def make(folder: Path) -> None:
    """Tell every recipe to a copy, and send a few rows through it."""
    folder.mkdir()
    copy = copied(folder)
    for recipe in RECIPES:
        apply(recipe, copy)
    line = Line(folder)
    line.write("reference/sites.csv", [SITE])
    normals = {"site_id": "site-a", "mean_temp_c": "13.5", "precipitation_mm": "90"}
    months = [normals | {"month": str(month)} for month in range(1, 13)]
    line.write("reference/climate_normals.csv", months)
    rows = sessions(30, cycle_minutes="40", power_source="zinc_air")
    line.write("site-a/sessions_2026-01.csv", rows)
    grades = dict.fromkeys(("condition_before", "condition_after_cleaning"), "whistling")
    whistling = [
        row | {name: f"F{row[name]}" for name in ("session_id", "device_id", "patient_id")}
        | {"condition_after": "normal" if at < 4 else "whistling"}
        for at, row in enumerate(sessions(6, **grades))
    ]  # fmt: skip
    line.write("site-a/sessions_2026-02.csv", whistling)
    for name, text in (
        ("exports/site-a/mapping.toml", MAPPING),
        ("exports/site-a/visit_counts_2026.csv", VISITS),
        ("visit_counts_2026-05.csv", EMPTY),
    ):
        (folder / name).write_text(text, encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", str(Path(__file__).with_name("line.py")), str(folder)],
        cwd=copy, env=os.environ | {"PYTHONPATH": str(copy), "OMP_NUM_THREADS": "1"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr


def test_every_way_to_add_has_a_recipe_that_runs():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("## How to add")[2].partition("\n## ")[0]
    told = re.findall(r"^- \*\*(.+?)\*\*", section, re.MULTILINE)
    assert set(told) - PARTS == {recipe.name for recipe in RECIPES}
    for recipe in RECIPES:
        bullet = section.partition(f"- **{recipe.name}**")[2].partition("\n- **")[0]
        for file in recipe.touched:
            places = [
                file,
                *(str(folder) for folder in Path(file).parents if len(folder.parts) > 1),
            ]
            assert any(place in bullet for place in places), f"{recipe.name}: {file} is not named"


def test_a_recipe_whose_place_has_gone_is_told(tmp_path):
    (tmp_path / "a.py").write_text("x = 1\nx = 1\n")
    for after in ("y", "x"):
        with pytest.raises(LookupError, match="not once"):
            apply(Recipe("a", (Insert("a.py", after, ""),)), tmp_path)
    with pytest.raises(LookupError, match="already"):
        apply(Recipe("a", files=("a.py",)), tmp_path)
    assert COLUMN.touched[0] == "schemas/exports/visit_counts.py"


def test_a_column_reaches_fact_dictionary_and_page(made):
    assert made.ask("SELECT loaners_given FROM visit_count WHERE month = '2026-03-01'") == [(4,)]
    assert made.dictionary().count("| `loaners_given` |") == 2
    assert "Loaner aids given meanwhile." in made.page("dictionary.html")


def test_a_word_is_read_and_told(made):
    assert ("battery_change",) in made.ask("SELECT visit_reason FROM visit_count")
    assert "battery_change" in made.dictionary()


def test_a_condition_is_read_reckoned_with_and_printed(made):
    rates = "SELECT n, rescued FROM rescue_rate WHERE grouping = 'all' AND unit = 'first_cycle'"
    assert made.ask(f"{rates} AND condition_before = 'whistling'") == [(6, 4)]
    log = (made.folder / "forms" / "bench_log_site-a.html").read_text(encoding="utf-8")
    assert "F whistling" in log
    assert "Whistling aids back to normal" in made.page("care.html")


def test_files_are_screened_again_where_the_contract_asks_something_else(made):
    noted = [(root / "schemas" / "digests.py").read_text("utf-8") for root in (ROOT, made.copy)]
    hashes = [re.findall(r"= \"(\w{8})\"", text) for text in noted]
    assert len(hashes[0]) == len(set(hashes[0] + hashes[1])) / 2 == 2


def test_a_climate_group_reaches_sites_and_their_sessions(made):
    assert made.ask("SELECT climate, climate_group FROM site") == [("H", "highland")]
    assert made.ask("SELECT DISTINCT climate_group FROM session_aid") == [("highland",)]
    rates = "SELECT n FROM rescue_rate WHERE grouping = 'climate_group' AND group_1 = 'highland'"
    assert (30,) in made.ask(rates)


def test_a_row_rule_refuses_and_says_why(made):
    found = made.ask("SELECT rule, column_name FROM refused_value")
    assert ("loaners_among_seen", "loaners_given") in found
    assert "count each loaner in the month it was given" in made.dictionary()
    assert "no more loaners are given than aids were seen" in made.page("quality.html")


def test_a_set_rule_quarantines_and_says_why(made):
    assert ("site_was_open",) in made.ask("SELECT rule FROM quarantined_row")
    assert "a month is not before the site opened" in made.page("quality.html")


def test_a_measure_reaches_warehouse_dictionary_and_what_is_shared(made):
    assert made.ask("SELECT power_source, n, mean_minutes FROM power_minutes") == [
        ("zinc_air", 30, 40.0)
    ]
    assert "### power_minutes" in made.dictionary()
    assert made.told["shared"] == [
        {"power_source": "zinc_air", "n": 30, "mean_minutes": 40.0},
        {"power_source": "unknown", "n": None, "mean_minutes": None},
    ]


def test_a_figure_stands_on_its_page(made):
    page = made.page("chambers.html")
    assert "How long do aids lie in the chamber, by what powers them?" in page
    assert "lie in it for 40 minutes" in page


def test_a_command_is_listed_and_prints_a_sheet(made):
    assert "door-sheet" in made.told["help"]
    assert "print it on A4" in made.told["door-sheet"]
    sheet = (made.folder / "door.html").read_text(encoding="utf-8")
    assert "Take zinc-air cells out before drying" in sheet
    assert "Content-Security-Policy" in sheet


def test_a_key_of_the_mapping_is_obeyed_and_told(made):
    assert made.ask("SELECT dead_seen FROM visit_count WHERE month = '2026-03-01'") == [(0,)]
    guide = (made.copy / "docs" / "mapping.md").read_text(encoding="utf-8")
    assert "zero_words" in guide


def test_advice_is_given(made):
    assert "Ask who was at the bench that day" in made.told["check"]
