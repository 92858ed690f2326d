"""Numbers in words come from the run: at another level no page says 95 % of its intervals."""

import html
import re
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from markupsafe import Markup

from pipeline.settings import Settings
from reports import rates, spoken
from reports.figure import LegendEntry, finding
from reports.figures import moisture_titles
from reports.levels import READ_BY_TITLES, with_level
from reports.pages import page_texts
from reports.sheets.staff_files import staff_texts
from schemas.dictionary import rows
from schemas.macros import MACROS
from tests.reports import made_up

REPORTS = Path(spoken.__file__).parent
# Said of an interval, not a value in a table.
NINETY_FIVE = re.compile(r".{0,40}(?<![\d.])95[ \u00a0\u202f]?%(?! ?\d).{0,24}", re.DOTALL)
# The same at any level: limits of a funnel, the spread of single checks, recorded simulations.
FIXED = (
    "outside the 95 % limits", "each site, 95 % and", "broad bar: 95 % limits", "95 % low",
    "95 % high", "where 95 % of single", "How often the 95 % interval holds", "leaves open (95 %)",
    "Coverage of its 95 % interval", "95 % interval of weak aids b", "95 % interval holds it",
)  # fmt: skip
# 80 % two-sided is 1.2816 standard errors: tables of the normal distribution.
Z_80, Z_95 = 1.2816, 1.9600


def texts(level: float) -> dict[str, str]:
    settings = Settings().flat() | made_up.SETTINGS | {"confidence_level": level}
    pages = page_texts(made_up.frames(), made_up.RUN, settings, settings_changed={})
    sheets = staff_texts(made_up.frames(), made_up.RUN, settings)
    return pages | {name: spoken.fill(text, settings) for name, text in sheets.items()}


def words_of(page: str) -> str:
    bare = re.sub(r"<(style|script)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


@pytest.fixture(scope="module")
def at_80() -> dict[str, str]:
    return {name: words_of(text) for name, text in texts(0.8).items()}


def test_at_80_no_page_says_95_of_an_interval(at_80: dict[str, str]) -> None:
    said = [
        (name, found[0])
        for name, text in at_80.items()
        for found in NINETY_FIVE.finditer(text)
        if not any(fixed in found[0] for fixed in FIXED)
    ]
    assert said == []
    assert sum(text.count("80 % interval") for text in at_80.values()) > 20
    assert "Intervals are at the confidence level set below, now 80 %." in at_80["methods.html"]


def test_at_the_usual_level_pages_say_95() -> None:
    text = words_of(texts(0.95)["care.html"])
    assert "95 % interval" in text and "80 % interval" not in text


def test_no_mark_is_left_on_a_page_and_each_names_a_setting(at_80: dict[str, str]) -> None:
    known = {*Settings().flat(), *spoken.ALIAS}
    sources = [*REPORTS.rglob("*.py"), *REPORTS.rglob("*.j2")]
    named = {
        mark[1]
        for file in sources
        for line in file.read_text("utf-8").splitlines()
        if "`%" not in line and "{%" not in line
        for mark in spoken.MARK.finditer(line)
    }
    assert named <= known
    assert {"level", "net_confidence", "acceptable_excess_stopped"} <= named
    left = {name: marks for name, text in at_80.items()
            if (marks := [m for m in spoken.MARK.findall(text) if m in known])}  # fmt: skip
    assert left == {}


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("confidence_level", 0.8, "80\u202f%"), ("confidence_level", 0.999, "99.9\u202f%"),
        ("net_confidence", 0.99, "99\u202f%"), ("acceptable_excess_stopped", 0.015, "1.5"),
        ("smallest_cell", 5, "5"), ("episode_gap_days", 21, "21"),
        ("tolerances.hfa_gain_db", 5.0, "5"), ("moisture_action_level_ul", None, "not set"),
    ],
)  # fmt: skip
def test_a_mark_says_the_value_in_force(name: str, value: Any, said: str) -> None:
    settings = {name: value}
    filled = spoken.fill(f"of %{name}%, 50 % and %other%", settings)
    assert filled == f"of {said}, 50\u202f% and %other%"


def test_marks_are_filled_within_records_lists_frames_and_markup() -> None:
    settings = {"confidence_level": 0.8}
    assert spoken.filled(LegendEntry("thick", "%level% line"), settings).words == "80\u202f% line"
    assert spoken.filled(({"a": ["%level%", 3]},), settings) == ({"a": ["80\u202f%", 3]},)
    frame = spoken.filled(pl.DataFrame({"says": ["%level%", None], "n": [1, 2]}), settings)
    assert frame["says"].to_list() == ["80\u202f%", None]
    assert isinstance(spoken.filled(Markup("<b>%level%</b>"), settings), Markup)
    untouched = finding("rule", "half of 50\u202f%")
    assert spoken.filled(untouched, settings) == untouched


def limits(value: float, error: float, z: float, level: float) -> dict[str, Any]:
    return {"rate": value, "low": value - z * error, "high": value + z * error,
            "confidence_level": level}  # fmt: skip


@pytest.mark.parametrize(("gap", "is_apart"), [(0.26, False), (0.30, True)])
def test_what_is_apart_does_not_depend_on_the_level_of_the_limits(
    gap: float, is_apart: bool
) -> None:
    """Two shares with a standard error of .1 each: 1.96 errors of their difference are .277."""
    for z, level in ((Z_80, 0.8), (Z_95, 0.95)):
        pair = (limits(0.2, 0.1, z, level), limits(0.2 + gap, 0.1, z, level))
        assert bool(rates.family_apart([pair], "rate", "low", "high")) is is_apart


def test_medians_are_apart_by_their_errors_whatever_the_level() -> None:
    def row(median: float, z: float, level: float) -> dict[str, Any]:
        return {"median_ul": median, "median_low_ul": median - z, "median_high_ul": median + z,
                "confidence_level": level}  # fmt: skip

    near, far = 2.7, 4.0  # 1.96 errors of a difference are 2.77; at 80 % limits part from 2.57 on
    assert not moisture_titles.are_apart(row(near, Z_80, 0.8), row(0.0, Z_80, 0.8), 1)
    assert moisture_titles.are_apart(row(far, Z_80, 0.8), row(0.0, Z_80, 0.8), 1)
    assert moisture_titles.are_apart(row(far, Z_95, 0.95), row(0.0, Z_95, 0.95), 1)


def test_rows_that_titles_compare_carry_the_level() -> None:
    frames = with_level(made_up.frames(), {"confidence_level": 0.8})
    for name in READ_BY_TITLES:
        assert frames[name]["confidence_level"].unique().to_list() == [0.8]
    assert "confidence_level" not in frames["site"].columns


def test_no_column_and_no_macro_says_95_of_the_runs_intervals() -> None:
    said = [row["description"] for row in rows() if re.search(r"\b95 ?%", row["description"] or "")]
    assert said == []
    for macro in MACROS:
        fixed = "1.959963984540054" in " ".join(macro.parameters) or macro.name == "rate_text"
        assert fixed or "95 %" not in macro.description, macro.name
