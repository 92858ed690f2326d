"""The comparison's figures: titles from verdicts that survive, no rank, nothing drawn in doubt."""

import polars as pl
import pytest

from reports.figures import beside_sites, site_comparison, site_funnel
from tests.disclosure.shared import shared
from tests.reports import made_up

WEAK = "weak_back_to_normal"


def frames(**verdicts):
    """The made-up frames, weak aids' verdicts changed by site number."""
    given = made_up.frames()
    table = given["site_comparison"].filter(pl.col("outcome") == WEAK)
    for site, word in verdicts.items():
        at = pl.col("site_id") == site.replace("_", "-")
        table = table.with_columns(
            pl.when(at).then(pl.lit(word)).otherwise("verdict").alias("verdict")
        )
    return given | {"site_comparison": table}


def test_a_title_names_the_sites_whose_verdict_survives():
    title = site_comparison.compared_weak(frames()).title
    assert title.rule == "compared.some"
    assert title.text == (
        "Weak aids back to normal: higher than expected at Birch Street, lower at Cedar House, "
        "of 5 sites compared"
    )  # fmt: skip


def test_many_names_are_counted():
    given = frames(site_01="higher_than_expected", site_04="higher_than_expected",
                   site_05="lower_than_expected")  # fmt: skip
    title = site_comparison.compared_weak(given).title.text
    assert (
        title == "Weak aids back to normal: 3 higher and 2 lower than expected, of 5 sites compared"
    )
    assert len(title) <= 110


def test_neutral_titles():
    none = frames(site_02="as_expected", site_03="as_expected")
    assert site_comparison.compared_weak(none).title.rule == "compared.none"
    few = frames(**{f"site_0{at}": "too_few_to_say" for at in range(1, 7)})
    assert site_comparison.compared_weak(few).title.rule == "compared.too_few"
    assert site_comparison.compared_weak({}).title.rule == "no_rows"


def test_a_site_without_a_verdict_has_no_dot_but_its_counts_and_reason():
    figure = site_comparison.compared_weak(frames())
    row = figure.table.filter(pl.col("site_id") == "site-06").row(0, named=True)
    assert (row["ratio"], row["widened_low"]) == (None, None)
    assert row["reason_words"] == "measurements copied forward"
    assert row["observed"] is not None
    drawn = [r for r in figure.panels[0].wide["datasets"]["rows"] if r["ratio"] is not None]
    assert len(drawn) == 5


def test_signs_follow_verdicts():
    table = site_comparison.compared_weak(frames()).table
    assert dict(table.select("verdict", "shape").rows()) == {
        "as_expected": "circle", "higher_than_expected": "triangle-up",
        "lower_than_expected": "triangle-down", "too_few_to_say": "circle",
    }  # fmt: skip


def test_the_funnel_counts_sites_beyond_its_wider_limits():
    figure = site_funnel.funnel_weak(frames())
    assert figure.table.height == 5
    rows = figure.table.to_dicts()
    outside = [
        row for row in rows
        if not row["funnel_low_998"] <= row["adjusted_rate"] <= row["funnel_high_998"]
    ]  # fmt: skip
    assert f"{len(outside)} of 5 sites" in figure.title.text
    named = {row["name_words"] for row in figure.panels[0].wide["datasets"]["rows"]}
    assert named == {"", "Birch Street", "Cedar House"}


def test_an_adjusted_rate_above_one_is_given_as_the_ratio():
    given = frames()
    at = pl.col("site_id") == "site-02"
    table = given["site_comparison"].with_columns(
        pl.when(at).then(None).otherwise(pl.col("adjusted_rate")).alias("adjusted_rate")
    )
    figure = site_funnel.funnel_weak(given | {"site_comparison": table})
    assert any("above 100" in note and "1.40" in note for note in figure.caveats)


def test_records_that_carry_no_verdict_are_counted():
    figure = beside_sites.beside_sites(made_up.frames())
    poor = figure.table.filter(pl.col("poor").is_not_null())["label"].item()
    assert (
        figure.title.text
        == f"The records of 1 of 6 sites cannot carry a comparison of recovery: {poor}"
    )
    assert figure.table["records_words"].to_list().count("can be compared") == 5


@pytest.mark.parametrize(
    "figure",
    [site_comparison.compared_weak, site_funnel.funnel_weak, beside_sites.beside_sites],
)
def test_hidden_numbers_are_not_drawn(figure):
    given = frames()
    table = given["site_comparison"].with_columns(
        pl.when(pl.col("site_id") == "site-02").then(5).otherwise(pl.col("observed"))
        .alias("observed")
    )  # fmt: skip
    shown = shared(given | {"site_comparison": table}, 11)
    drawn = figure(shown)
    assert "None" not in drawn.title.text + drawn.subtitle + drawn.alt
    if "ratio" in drawn.table.columns:
        rows = drawn.table.filter(pl.col("site_id") == "site-02")
        assert rows.is_empty() or rows["ratio"].is_null().all()
