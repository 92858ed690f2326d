"""The first page's matrix, strip and months: what is counted, named, hidden, and cut."""

import math

import polars as pl
import pytest

from pipeline.disclosure.suppress import suppress
from pipeline.measures.catalogue import DISCLOSURE
from reports.brief import columns, fates, matrix, months
from reports.brief.scale import MARGIN, WIDTH, linear, ratios
from reports.overview import most_printed
from tests.reports import made_up
from tests.reports.made_up_sites import many


@pytest.fixture(scope="module")
def asked():
    return {column.id: column for column in columns.columns(made_up.frames())}


def test_eight_questions_in_the_order_of_the_page(asked):
    assert list(asked) == ["use", "dead_dried", "dead", "weak", "harmed", "not_assessed",
                           "chambers", "records"]  # fmt: skip
    for column in asked.values():
        assert column.question.endswith("?")
        assert set(column.cells) <= set(made_up.SITES)


def test_loads_are_those_of_the_last_three_months_over_open_days():
    """Two chambers: their runs add up, the days of the month count once."""
    rows = pl.DataFrame({
        "site_id": ["a"] * 4, "dryer_id": ["D1", "D2", "D1", "D1"],
        "month": pl.Series(["2026-03-01", "2026-03-01", "2026-04-01", "2025-12-01"]).str.to_date(),
        "runs": [40, 20, 30, 999], "open_days": [20.0, 20.0, 10.0, 20.0],
    })  # fmt: skip
    cell = columns.use({"utilisation": rows}).cells["a"]
    (mark,) = cell.marks
    assert mark.value == pytest.approx(90 / 30)  # by hand: 60 of 20 days and 30 of 10 days
    assert (mark.low, mark.high) == (3.0, 3.0)


def test_a_verdict_is_drawn_by_its_shape_and_no_verdict_says_why(asked):
    for id_, outcome in (("dead", "dead_sounds_again"), ("weak", "weak_back_to_normal")):
        rows = made_up.site_comparison().filter(outcome=outcome).to_dicts()
        for row in rows:
            cell = asked[id_].cells[row["site_id"]]
            if row["verdict"] == "too_few_to_say":
                assert (cell.state, cell.marks) == ("no_verdict", ())
                assert cell.says.startswith("no verdict: ")
                continue
            (mark,) = cell.marks
            assert (mark.value, mark.low, mark.high) == (
                row["ratio"], row["widened_low"], row["widened_high"])  # fmt: skip
            assert mark.shape == {"higher_than_expected": "up", "as_expected": "dot",
                                  "lower_than_expected": "down"}[row["verdict"]]  # fmt: skip
            assert cell.is_apart == (mark.shape != "dot")


def test_hidden_numbers_have_no_verdict_and_no_mark():
    given = made_up.frames()
    few = given["site_comparison"].with_columns(
        pl.when((pl.col("outcome") == "dead_sounds_again") & (pl.col("site_id") == "site-02"))
        .then(4).otherwise("observed").alias("observed")
    )  # fmt: skip
    shown = suppress(given | {"site_comparison": few}, 11, DISCLOSURE)
    found = {column.id: column for column in columns.columns(shown)}
    cell = found["dead"].cells["site-02"]
    assert (cell.state, cell.word, cell.marks, cell.is_apart) == ("hidden", "hidden", (), False)


def test_a_site_without_rows_has_no_verdict(asked):
    assert asked["dead"].cell("nowhere").state == "no_verdict"


@pytest.mark.parametrize(("sites", "rest"), [(30, False), (36, True)])
def test_the_limit_of_sites_on_the_first_page(sites, rest):
    given = many(sites // 6)
    found = matrix.matrix(given, "")
    assert bool(found.rest) == rest
    assert any(row.is_rest for row in found.rows) == rest
    assert len(found.rows) == sites
    whole = matrix.matrix(given, "", is_whole=True)
    assert not whole.rest
    if rest:
        shown = [row for row in found.rows if not row.is_rest]
        assert all(any(cell.is_apart for cell in row.cells) for row in shown)
        n = sum(int(words.split()[0]) for words in found.rest[0])
        assert n == sites - len(shown)


def test_a_title_names_or_counts_and_never_exceeds_a_line():
    for copies in (1, 2, 5):
        told = matrix.matrix(many(copies), "").title
        assert len(told.text) <= matrix.MOST_TITLE
    assert matrix.matrix({}, "").title.state == "nothing_to_compare"


def test_the_strip_sums_to_a_hundred_and_gives_way_where_a_step_is_hidden():
    given = made_up.frames()
    figure = fates.fates(given)
    (strip,) = figure.panels
    assert sum(state.of_100 for state in strip.states) == 100
    rows = given["outcome_ladder"].filter(condition_before="dead", grouping="all")
    dried = rows.filter(step="works_after_drying")["ended_here"].item()
    assert {state.id: state.n for state in strip.states}["works_after_drying"] == dried
    hidden = given["outcome_ladder"].with_columns(
        pl.when(pl.col("step") == "replaced").then(None).otherwise("ended_here").alias("ended_here")
    )
    assert fates.fates({"outcome_ladder": hidden}).panels == ()
    assert fates.fates({}).title.state == "nothing_to_compare"


def test_the_last_month_is_set_against_the_one_before_with_what_chance_does():
    def row(month, value, signal):
        return {"series": "dead_sounds_again", "site_id": None, "month": month, "n": 50,
                "value": value, "signal": signal, "rule": "beyond_limits" if signal else None,
                "p_adjusted": 0.01}  # fmt: skip

    rows = [row("2026-04-01", 0.5, None), row("2026-05-01", 0.6, None),
            row("2026-06-01", 0.8, "above")]  # fmt: skip
    table = pl.DataFrame(rows, schema_overrides={"site_id": pl.String, "signal": pl.String,
                                                 "rule": pl.String})  # fmt: skip
    table = table.with_columns(pl.col("month").str.to_date())
    (told,) = months.last_month({"monthly_trend": table})
    assert told == (
        "Dead aids that sound again: 80\u202f%, was 60\u202f%; above its usual level, beyond "
        "chance (beyond the limits)."
    )
    maybe = table.with_columns(p_adjusted=pl.lit(0.05), series=pl.lit("median_moisture"))
    (told,) = months.last_month({"monthly_trend": maybe})
    assert told == (
        "Median water of loads of one aid: 0.80 µL, was 0.60 µL; above its usual level, but "
        "that may be chance, given the number of series. Water moves with the season."
    )
    assert months.months_compared({"monthly_trend": table}) == "June 2026 against May 2026"
    (quiet,) = months.last_month({"monthly_trend": table.head(2)})
    assert quiet.endswith("60\u202f%, was 50\u202f%; within chance.")
    assert months.last_month({}) == []


@pytest.mark.parametrize(("rows", "most"), [(15, 10), (16, 7)])
def test_fewer_things_to_do_are_printed_under_many_sites(rows, most):
    assert most_printed(rows) == most


def test_scales_hold_their_values_and_stop_at_their_ends():
    scale = ratios([0.6, 1.3])
    assert (scale.low, scale.high) == (0.5, 2.0)
    middle = MARGIN + (WIDTH - 2 * MARGIN) / 2
    assert scale.place(1.0) == pytest.approx(middle)  # 0.5, 1 and 2 are equal steps of ratio
    assert scale.place(0.0) == MARGIN
    assert scale.place(50.0) == WIDTH - MARGIN
    assert ratios([0.01, 70.0]).low == 0.1
    straight = linear([3.0, 17.0], least=0.0)
    assert straight.low == 0.0
    assert straight.high >= 17.0
    assert len(straight.ticks) <= 4
    assert all(math.isfinite(value) for value, _ in straight.ticks)
