"""A title says which of three things it is: a finding, nothing clear, nothing to compare."""

import re

import polars as pl
import pytest

from pipeline.disclosure.suppress import suppress
from reports import rates
from reports.dashboards.declared import DASHBOARDS
from reports.errors import ReportError
from reports.figure import (
    FINDING,
    NOTHING_CLEAR,
    NOTHING_TO_COMPARE,
    TITLE_STATES,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from tests.reports import made_up

RULES = [rule for page in DASHBOARDS for section in page.sections for rule in section.figures]
COUNTED = re.compile(r"n = [\d\u202f]*\d|n hidden")
NO_FINDING = re.compile(r"too few|not known|yet to|nothing to compare|no clear|clearly apart", re.I)


@pytest.fixture(scope="module", params=["given", "hidden", "empty"])
def titles(request):
    given = {"given": made_up.frames(), "hidden": suppress(made_up.frames(), 11), "empty": {}}
    frames = given[request.param]
    return request.param, [(figure.id, figure.title) for figure in (rule(frames) for rule in RULES)]


def test_a_title_keeps_what_its_state_promises(titles):
    for id_, title in titles[1]:
        where = (id_, title.text)
        if title.state == NOTHING_CLEAR:
            assert COUNTED.search(title.text), where
            assert "too few" not in title.text.lower(), where
        elif title.state == NOTHING_TO_COMPARE:
            assert "%" not in title.text, where
        elif title.state == FINDING:
            assert not NO_FINDING.search(title.text), where


def test_a_figure_without_rows_has_nothing_to_compare(titles):
    kind, found = titles
    if kind == "empty":
        assert {title.state for _, title in found} == {NOTHING_TO_COMPARE}


def test_an_unknown_state_is_refused():
    with pytest.raises(ReportError, match="state 'quiet'"):
        Title("x.y", "text", "quiet")
    assert {Title("x.y", "text", state).state for state in TITLE_STATES} == set(TITLE_STATES)


def test_titles_made_by_their_state():
    assert finding("a.b", "5 % of aids").state == FINDING
    assert nothing_to_compare("a.b", "Too few aids").state == NOTHING_TO_COMPARE
    clear = nothing_clear("a.b", "No two styles are clearly apart", 1234)
    assert clear == Title(
        "a.b", "No two styles are clearly apart (n = 1\u202f234)", "nothing_clear"
    )
    assert nothing_clear("a.b", "No two", None).text.endswith("(n hidden)")


@pytest.mark.parametrize(
    ("shares", "n", "state"),
    [
        (((0.5, 0.45, 0.55), (0.2, 0.15, 0.25)), 300, FINDING),
        (((0.5, 0.3, 0.7), (0.4, 0.2, 0.6)), 300, NOTHING_CLEAR),
        (((0.0, 0.0, 0.02), (1.0, 0.98, 1.0)), 300, FINDING),
        (((0.5, 0.3, 0.7),), 300, NOTHING_TO_COMPARE),
        (((0.5, 0.45, 0.55), (0.2, 0.15, 0.25)), 29, NOTHING_TO_COMPARE),
    ],
)
def test_groups_apart_alike_and_too_few_are_told_apart(shares, n, state):
    rows = [
        {"label": str(at), "n": n, "rate": rate, "adjusted_low": low, "adjusted_high": high,
         "is_small": n < 30}
        for at, (rate, low, high) in enumerate(shares)
    ]  # fmt: skip
    title = rates.spread(pl.DataFrame(rows), "Aids recover", "No two are apart", "Too few aids")
    assert title.state == state
    if state == NOTHING_CLEAR:
        assert title.text.endswith("(n = 600)")
