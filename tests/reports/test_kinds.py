"""The form of a picture fits its kind of question."""

from dataclasses import replace

import polars as pl
import pytest

from reports.dashboards.declared import DASHBOARDS
from reports.figures.after_rescue import after_rescue
from reports.figures.dead_aids_dried import dead_aids_dried
from reports.figures.routine_arms import routine_arms
from reports.kinds import KINDS, unfit_forms
from tests.reports import made_up

RULES = [rule for page in DASHBOARDS for section in page.sections for rule in section.figures]


@pytest.fixture(scope="module")
def figures():
    given = made_up.frames()
    return [rule(given) for rule in RULES]


def test_every_figure_names_its_kind_and_comes_in_a_form_for_it(figures):
    for figure in figures:
        assert unfit_forms(figure) == [], figure.id
        if figure.panels:
            assert figure.kind in KINDS, figure.id


def test_every_kind_is_asked_and_answered(figures):
    """A kind nobody asks, or a form nobody draws, would be a promise without a picture."""
    asked = {figure.kind for figure in figures if figure.kind}
    assert asked == set(KINDS)
    drawn = {panel.form for figure in figures for panel in figure.panels} - {"words"}
    assert drawn == {form for kind in KINDS.values() for form in kind.forms}


def test_a_figure_whose_form_does_not_fit_its_kind_is_refused():
    given = made_up.frames()
    curves, dots = after_rescue(given), dead_aids_dried(given)
    assert unfit_forms(replace(curves, panels=dots.panels)) == ["intervals"]
    assert unfit_forms(replace(dots, kind="when")) == ["intervals"]
    assert unfit_forms(replace(dots, kind="")) == ["intervals"]
    assert unfit_forms(dots) == []


def test_states_too_few_to_show_stand_together_in_a_strip():
    table = made_up.routine_drying().with_columns(
        pl.when(~pl.col("part").is_in(["mixed", "unchanged"])).then(name).alias(name)
        for name in ("dried_value", "dried_count", "cleaned_value", "cleaned_count")
    )
    strip = next(panel for panel in routine_arms({"routine_drying": table}).panels)
    (hidden,) = (state for state in strip.states if state.id == "hidden")
    assert hidden.words == "better and worse, or the same (not told apart)"
    assert sum(state.of_100 for state in strip.states) == 100
    # Stopped .008, worse .02, better .1 and not measured .015 leave .857.
    assert hidden.of_100 == 86
    assert hidden.n is None
