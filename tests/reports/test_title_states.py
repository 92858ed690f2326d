"""A title says which of three things it is: a finding, nothing clear, nothing to compare."""

import re

import polars as pl
import pytest

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
from reports.figures import agreement, claims, graded_rates, outcome_ladder, quality_checks
from reports.levels import LEVEL
from tests.disclosure.shared import shared
from tests.reports import made_up

RULES = [rule for page in DASHBOARDS for section in page.sections for rule in section.figures]
COUNTED = re.compile(r"n = [\d\u202f]*\d|n hidden")
NO_FINDING = re.compile(r"too few|not known|yet to|nothing to compare|no clear|clearly apart", re.I)


@pytest.fixture(scope="module", params=["given", "hidden", "empty"])
def titles(request):
    given = {"given": made_up.frames(), "hidden": shared(made_up.frames(), 11), "empty": {}}
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
         "is_small": n < 30, LEVEL: 0.95}
        for at, (rate, low, high) in enumerate(shares)
    ]  # fmt: skip
    title = rates.spread(pl.DataFrame(rows), "Aids recover", "No two are apart", "Too few aids")
    assert title.state == state
    if state == NOTHING_CLEAR:
        assert title.text.endswith("(n = 600)")


@pytest.mark.parametrize(("gap", "groups", "is_found"), [(0.15, 2, True), (0.15, 9, False),
                                                       (0.3, 9, True)])  # fmt: skip
def test_among_many_groups_a_small_gap_is_no_finding(gap, groups, is_found):
    """Two of nine groups just apart are what chance gives; of two groups alone they are not."""
    low, high = 0.5 - gap / 2, 0.5 + gap / 2
    shares = [low, high, *[0.5] * (groups - 2)]
    rows = [
        {"label": str(at), "n": 300, "rate": share, "adjusted_low": share - 0.07,
         "adjusted_high": share + 0.07, "is_small": False, LEVEL: 0.95}
        for at, share in enumerate(shares)
    ]  # fmt: skip
    title = rates.spread(pl.DataFrame(rows), "Aids recover", "No two are apart", "Too few aids")
    assert (title.state == FINDING) == is_found


def test_the_family_keeps_the_pairs_of_benjamini_and_hochberg():
    """Pairs of p .0027, .0455 and .3173 (z of 3, 2 and 1): at 5 % the first alone is kept."""

    def pair(z):
        half = 1.959964 * 0.05
        return tuple(
            {"v": 0.5 + at * z * 0.05 * 2**0.5, "l": 0.5 + at * z * 0.05 * 2**0.5 - half,
             "h": 0.5 + at * z * 0.05 * 2**0.5 + half, LEVEL: 0.95} for at in (0, 1)
        )  # fmt: skip

    pairs = [pair(2), pair(3), pair(1)]
    assert rates.family_apart(pairs, "v", "l", "h") == [pairs[1]]
    assert rates.family_apart(pairs[:1], "v", "l", "h") == pairs[:1]
    assert rates.family_apart([], "v", "l", "h") == []


def weak_rows(coupler, ear):
    return pl.DataFrame([
        {"condition_before": "weak", "graded_by": by, "n": n, "rate": k / n,
         "adjusted_low": low, "adjusted_high": high}
        for by, (k, n, low, high) in (("coupler_measurement", coupler), ("listening_check", ear))
    ])  # fmt: skip


def test_a_rate_of_nought_is_compared_not_called_too_few():
    found = graded_rates.title(weak_rows((0, 300, 0.0, 0.0126), (120, 300, 0.35, 0.46)))
    assert found.state == FINDING
    assert "0\u202f% by coupler" in found.text
    alike = graded_rates.title(weak_rows((0, 300, 0.0, 0.0126), (0, 300, 0.0, 0.0126)))
    assert alike.state == NOTHING_CLEAR
    assert alike.text.endswith("(n = 600)")


def test_full_agreement_has_no_kappa_and_is_a_finding():
    frame = made_up.condition_agreement().with_columns(
        pl.lit(1.0).alias("share_agree"), pl.lit(0.996).alias("agree_low"),
        pl.lit(1.0).alias("agree_high"), pl.lit(None, pl.Float64).alias("kappa"),
    )  # fmt: skip
    found = agreement.title(frame)
    assert found.state == FINDING
    assert found.text.endswith("agree on 100\u202f% of aids (100 to 100\u202f%)")


def test_claims_that_cannot_be_checked_are_not_counted_as_a_finding():
    frame = made_up.frames()["claim_check"].with_columns(pl.lit("too_few_to_say").alias("verdict"))
    assert claims.title(frame).state == NOTHING_TO_COMPARE
    assert claims.title(made_up.frames()["claim_check"]).state == FINDING


def test_quality_without_a_fault_is_counted_not_missing():
    frame = made_up.frames()["data_quality"].with_columns(pl.lit(value=False).alias("is_over"))
    found = quality_checks.quality_checks({"data_quality": frame}).title
    assert found.state == NOTHING_CLEAR
    assert f"n = {frame.height}".replace(",", "\u202f")[:6] in found.text


def test_the_check_most_often_over_is_the_highest_dot_not_the_one_of_most_sites():
    months = {"Ear not recorded": [9], "Not assessed": [2, 3], "Age not recorded": [5]}
    rows = [{"check": name, "months_over": n} for name, found in months.items() for n in found]
    found = quality_checks.title(pl.DataFrame(rows)).text
    assert found == "Most often over: Ear not recorded, in 9 site-months at 1 site"


def test_dead_aids_of_unknown_order_are_told_in_the_ladders_title():
    frame = outcome_ladder.steps(made_up.frames()).filter(pl.col("grouping") == "all")
    some = frame.with_columns((pl.col("n") // 4).alias("order_not_recorded"))
    assert outcome_ladder.title(some).text.endswith("order of work unknown for 25\u202f%")
    none = frame.with_columns(pl.lit(0).alias("order_not_recorded"))
    assert "order of work" not in outcome_ladder.title(none).text
