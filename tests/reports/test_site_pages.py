"""The page of a site: its own numbers and no other site's, words where there is no picture."""

from datetime import date

import polars as pl
import pytest

from reports.site_pages import aids, chambers, expectation, fixes, months
from reports.site_pages.site_page import site_pages
from tests.disclosure.shared import shared
from tests.reports import made_up


@pytest.fixture(scope="module")
def frames():
    return made_up.frames()


@pytest.fixture(scope="module")
def pages(frames):
    return {page.id: page for page in site_pages(frames)}


def test_every_site_has_a_page(pages):
    assert sorted(pages) == sorted(made_up.SITES)


def test_a_site_is_told_its_own_verdicts(frames, pages):
    rows = frames["site_comparison"]
    for site, page in pages.items():
        own = rows.filter(site_id=site)
        assert len(page.expectations) == own.height
        judged = own.filter(pl.col("verdict") != "too_few_to_say").height
        assert sum(bool(one.drawing) for one in page.expectations) <= judged
        apart = own.filter(pl.col("verdict").str.ends_with("than_expected")).height
        assert sum(one.is_apart for one in page.expectations) == apart
        assert ("than expected" in page.lead) == bool(apart)


@pytest.mark.parametrize(
    ("outcome", "low", "high", "says"),
    [
        ("dead_sounds_again", 1.01, 1.4, "; clear of 1, as some of "),
        ("dead_sounds_again", 1.0, 1.4, ""), ("dead_sounds_again", 0.7, 0.99, "; clear of 1, "),
        ("normal_worsened", 0.001, 0.02, "; clear of 0, as some of "),
        ("normal_worsened", 0.0, 0.02, ""),
    ],
)  # fmt: skip
def test_a_line_clear_of_what_is_expected_is_explained_where_it_stands(
    frames, outcome, low, high, says
):
    ends = ("excess_low", "excess_high") if outcome == "normal_worsened" else (
        "widened_low", "widened_high")  # fmt: skip
    rows = frames["site_comparison"].filter(outcome=outcome).with_columns(
        pl.lit("as_expected").alias("verdict"), pl.lit(0.19).alias("p_adjusted"),
        *(pl.lit(end).alias(name) for name, end in zip(ends, (low, high), strict=True)),
        pl.lit(1.2 if outcome != "normal_worsened" else 0.01).alias(
            "excess" if outcome == "normal_worsened" else "ratio"),
    )  # fmt: skip
    told = expectation.by_site({"site_comparison": rows, "site": frames["site"]})
    numbers = [one.number for own in told.values() for one in own]
    assert len(numbers) == rows.height
    for number in numbers:
        assert ("clear of" in number) == bool(says)
        assert says in number
        assert not says or f"{rows.height} comparisons are by chance alone" in number
        assert not says or number.endswith("(p adjusted for them 0.19)")


def test_without_a_verdict_the_reason_stands_in_place_of_a_picture(frames):
    told = expectation.by_site(frames)
    missing = [one for own in told.values() for one in own if not one.drawing]
    assert missing
    assert all(one.word.startswith("no verdict: ") and one.number == "–" for one in missing)


def test_two_sites_chambers_of_one_name_keep_their_own_standing(frames):
    rows = frames["dryer_calibration"].head(2).with_columns(
        pl.Series("site_id", ["a", "b"]), pl.lit("D1").alias("dryer_id"),
        pl.Series("standing", ["in_tolerance", "overdue"]),
        pl.lit(None, pl.String).alias("standing_before_retest"),
        pl.lit(None, pl.Date).alias("removed_on"),
    )  # fmt: skip
    use = frames["utilisation"].head(2).with_columns(
        pl.Series("site_id", ["a", "b"]), pl.lit("D1").alias("dryer_id"),
        pl.Series("runs_per_open_day", [2.0, 5.0]),
    )  # fmt: skip
    told = chambers.by_site({"dryer_calibration": rows, "utilisation": use})
    assert [one.standing for one in told["a"].told] == ["in tolerance"]
    assert chambers.faults(told["a"]) == []
    assert chambers.faults(told["b"]) == ["D1 check overdue"]
    assert told["a"].told[0].use.startswith("2.0 runs")
    assert told["b"].told[0].use.startswith("5.0 runs")


def ladder(n, **ended):
    steps = {"works_after_cleaning": 0, "works_after_drying": 0, "returned_not_working": 0,
             "sent_for_repair": 0, "replaced": 0, "fate_not_known": 0, "not_assessed": 0,
             "not_dried": 0} | ended  # fmt: skip
    return {"outcome_ladder": pl.DataFrame([
        {"condition_before": "dead", "grouping": "site_id", "group_1": "s1", "step": step, "n": n,
         "ended_here": count} for step, count in steps.items()
    ], schema_overrides={"ended_here": pl.Int64, "n": pl.Int64})}  # fmt: skip


def test_dead_aids_are_a_strip_of_a_hundred_with_their_counts():
    strip, words = aids.by_site(ladder(40, works_after_cleaning=20, works_after_drying=13,
                                       replaced=4, not_assessed=3))["s1"]  # fmt: skip
    assert words.startswith("40 dead aids cleaned or dried")
    told = {state.id: (state.of_100, state.n) for state in strip.states}
    # 50, 32.5, 10 and 7.5 of 100: the equal remainders give their one aid to the earlier state.
    assert told == {"works_after_cleaning": (50, 20), "works_after_drying": (33, 13),
                    "replaced": (10, 4), "not_known": (7, 3)}  # fmt: skip


@pytest.mark.parametrize(("n", "is_drawn"), [(19, False), (20, True)])
def test_few_dead_aids_are_told_in_words(n, is_drawn):
    strip, words = aids.by_site(ladder(n, works_after_drying=n))["s1"]
    assert (strip is not None) == is_drawn
    assert ("too few for a picture" in words) != is_drawn


def test_hidden_steps_are_not_drawn():
    strip, words = aids.by_site(ladder(40, works_after_cleaning=37, replaced=None))["s1"]
    assert strip is None
    assert "hidden" in words


def use(rows):
    columns = ["site_id", "dryer_id", "month", "runs", "weeks_without_data"]
    return {"utilisation": pl.DataFrame(rows, schema=columns, orient="row")}


def test_the_calendar_has_every_month_from_the_sites_first_to_the_groups_last():
    grid = months.by_site(use([
        ("s1", "D1", date(2025, 11, 1), 30, 0), ("s1", "D2", date(2025, 11, 1), 12, 0),
        ("s1", "D1", date(2026, 1, 1), 20, 2), ("s2", "D1", date(2026, 3, 1), 9, 0),
    ]))["s1"]  # fmt: skip
    (this, last) = grid.rows
    assert (this.heading, last.heading) == ("2026", "2025")
    assert [cell.text if cell else None for cell in last.cells[9:]] == [None, "42", "–"]
    assert [cell.text if cell else None for cell in this.cells[:4]] == ["20", "–", "–", None]
    assert (this.cells[0].state, this.cells[0].small) == ("part", "2 wk")
    assert (this.cells[1].state, last.cells[10].state) == ("none", "value")


def test_months_in_a_row_are_told_once():
    row = made_up.monthly_trend().row(0, named=True) | {
        "site_id": "s1", "series": "not_assessed", "signal": "above", "rule": "run_of_eight",
        "p_adjusted": 0.4,
    }  # fmt: skip
    rows = [row | {"month": date(2026, month, 1)} for month in (1, 2, 3, 5)]
    rows.append(row | {"site_id": "s2", "month": date(2026, 4, 1)})
    frame = pl.DataFrame(rows, schema=made_up.monthly_trend().schema)
    told = months.signals_by_site({"monthly_trend": frame})
    assert [text.split(": ")[0] for text in told["s1"]] == [
        "Problem aids not assessed after drying, May 2026",
        "Problem aids not assessed after drying, January 2026 to March 2026",
    ]
    assert all("may be chance" in text for text in told["s1"])


def test_attention_is_the_sites_own_the_gravest_first(frames):
    items = fixes.attention_by_site(frames)
    table = frames["attention_item"]
    for site, own in items.items():
        assert len(own) == table.filter(site_id=site).height
        order = ["harm", "safety", "result", "record"]
        places = [order.index(item.severity) for item in own]
        assert places == sorted(places)


def test_the_pages_of_the_shared_edition_say_what_is_hidden(frames):
    shown = shared(frames, 11)
    for page in site_pages(shown):
        assert "None" not in page.lead + page.strip_words
        for one in page.expectations:
            assert "None" not in one.word + one.number + one.counts


def test_no_tables_give_pages_that_say_so():
    (page,) = site_pages({"site": pl.DataFrame({"site_id": ["s1"], "site_name": ["North"]})})
    assert page.lead == "Nothing needs attention."
    assert page.strip is None
    assert page.calendar is None
    assert page.chambers == []
