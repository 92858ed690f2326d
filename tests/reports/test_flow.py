"""From rows to figures: what came in is what was left out and what was analysed."""

import re

import polars as pl

from pipeline.measures.catalogue import MEASURES
from reports.flow import flow
from reports.methods.catalogue import ENTRIES
from reports.pages import page_texts
from tests.reports import made_up

# Sections of tables that count what was recorded and estimate nothing.
COUNTED_ONLY = {"data-quality", "chamber-physics", "ladder", "use"}


def numbers(text: str) -> list[int]:
    return [int(found.replace("\u202f", "")) for found in re.findall(r"\d[\d\u202f]*", text)]


def test_every_shown_row_adds_up():
    rows = flow(made_up.frames())
    assert len(rows) >= 10
    shown = [row for row in rows if "hidden" not in " ".join(row)]
    assert len(shown) >= 8
    for name, of, left_out, analysed in shown:
        parts = [numbers(reason)[0] for reason in left_out.split("; ") if reason != "none"]
        assert numbers(of) == [sum(parts) + numbers(analysed)[0]], name


def test_a_hidden_reason_hides_the_total_too():
    given = made_up.frames()
    rate = given["rescue_rate"].with_columns(
        pl.when(pl.col("condition_before") != "dead").then("not_assessed").alias("not_assessed")
    )
    dead = next(row for row in flow(given | {"rescue_rate": rate}) if row[0].startswith("Dead"))
    assert dead[1] == "hidden"
    assert dead[2] == "hidden not assessed afterwards"


def test_the_methods_page_has_the_flow_and_what_is_estimated():
    text = page_texts(
        made_up.frames(), made_up.RUN, made_up.SETTINGS, settings_changed=made_up.CHANGED
    )["methods.html"]
    assert 'id="flow-table"' in text
    told = {entry.anchor for entry in ENTRIES if entry.estimand}
    assert text.count("What is estimated:") == len(told)
    assert {measure.method for measure in MEASURES} - told == COUNTED_ONLY
    assert flow({}) == []
