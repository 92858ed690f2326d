"""Small counts of `site_comparison` are hidden, and what would give them away."""

import polars as pl

from pipeline.disclosure.sites import comparison
from tests.disclosure.shared import shared
from tests.reports import made_up

NUMBERS = ("n", "observed", "expected", "ratio", "adjusted_rate", "z", "p_adjusted")


def frame(**changes):
    """The made-up table with one cell of a site and outcome changed."""
    table = made_up.site_comparison()
    for name, (outcome, site, value) in changes.items():
        at = (pl.col("outcome") == outcome) & (pl.col("site_id") == site)
        table = table.with_columns(pl.when(at).then(value).otherwise(pl.col(name)).alias(name))
    return table


def hidden(shown, outcome):
    rows = shown.filter(pl.col("outcome") == outcome, pl.col("n").is_null())
    for name in NUMBERS:
        assert rows[name].is_null().all()
    return set(rows["site_id"])


def test_large_counts_stay():
    table = frame()
    assert comparison(table, {}, 11).equals(table.sort("outcome", "site_id"))


def test_a_small_row_is_hidden_with_the_smallest_other_so_that_no_sum_gives_it_away():
    table = frame(observed=("weak_back_to_normal", "site-03", 4))
    shown = comparison(table, {}, 11)
    gone = hidden(shown, "weak_back_to_normal")
    assert "site-03" in gone
    assert len(gone) == 2
    verdicts = shown.filter(outcome="weak_back_to_normal").select("site_id", "verdict").rows()
    given = dict(table.filter(outcome="weak_back_to_normal").select("site_id", "verdict").rows())
    for site, verdict in verdicts:
        is_hidden = site in gone and given[site] != "too_few_to_say"
        assert verdict == (None if is_hidden else given[site])
    assert hidden(shown, "dead_sounds_again") == set()


def test_few_wearers_and_few_others_are_small_too():
    table = frame(wearers=("not_assessed", "site-02", 9))
    assert "site-02" in hidden(comparison(table, {}, 11), "not_assessed")
    n = table.filter(pl.col("outcome") == "dead_sounds_again")["n"][0]
    few_others = frame(observed=("dead_sounds_again", "site-01", n - 3))
    assert "site-01" in hidden(comparison(few_others, {}, 11), "dead_sounds_again")


def test_few_cleaned_only_aids_hide_their_row():
    table = frame(cleaned_observed=("normal_worsened", "site-03", 3))
    shown = comparison(table, {}, 11)
    assert "site-03" in hidden(shown, "normal_worsened")
    assert shown.filter(outcome="normal_worsened", site_id="site-03")["excess"].item() is None


def test_what_the_rates_hide_is_hidden_here():
    rates = made_up.rescue_rate().with_columns(
        pl.when((pl.col("grouping") == "site_id") & (pl.col("group_1") == "site-04"))
        .then(None).otherwise(pl.col("rescued")).alias("rescued")
    )  # fmt: skip
    shown = comparison(frame(), {"rescue_rate": rates}, 11)
    assert "site-04" in hidden(shown, "dead_sounds_again")
    assert "site-04" in hidden(shown, "weak_back_to_normal")
    assert hidden(shown, "normal_worsened") == set()


def test_aids_not_assessed_less_those_of_the_rates_must_not_be_few():
    rates = made_up.rescue_rate()
    own = rates.filter(
        pl.col("grouping") == "site_id", pl.col("group_1") == "site-02",
        pl.col("unit") == "first_cycle",
    )  # fmt: skip
    of_rates = int(own.filter(
        pl.struct("condition_before", "definition").is_in(
            [{"condition_before": c, "definition": d}
             for c, d in (("dead", "sounds_again"), ("weak", "back_to_normal"))])
    )["not_assessed"].sum())  # fmt: skip
    table = frame(observed=("not_assessed", "site-02", of_rates + 5))
    assert "site-02" in hidden(comparison(table, {"rescue_rate": rates}, 11), "not_assessed")
    assert hidden(comparison(table, {"rescue_rate": rates}, 1), "not_assessed") == set()


def test_what_stands_beside_is_hidden_where_small():
    table = made_up.site_comparison().with_columns(
        pl.when(pl.col("site_id") == "site-01").then(4).otherwise(pl.col("copied_forward"))
        .alias("copied_forward"),
        pl.when(pl.col("site_id") == "site-02").then(97).otherwise(pl.col("dead_dried"))
        .alias("dead_dried"),
        pl.when((pl.col("site_id") == "site-03") & (pl.col("outcome") == "not_assessed"))
        .then(3).otherwise(pl.col("observed")).alias("observed"),
    )  # fmt: skip
    shown = comparison(table, {}, 11)
    of = {site: rows for (site,), rows in shown.group_by("site_id")}
    assert of["site-01"]["copy_forward_share"].is_null().all()
    assert of["site-02"]["dead_dried_share"].is_null().all()
    assert of["site-03"]["not_assessed_share"].is_null().all()
    assert of["site-04"]["dead_dried_share"].is_not_null().all()


def test_agreement_goes_with_its_own_table():
    table = made_up.site_comparison().with_columns(agreement_share=pl.lit(0.9))
    agreement = pl.DataFrame(
        {"site_id": ["site-01", "site-02", None], "moment": ["after", "before", "after"],
         "agree": [None, 40, 300]}
    )  # fmt: skip
    shown = comparison(table, {"condition_agreement": agreement}, 11)
    gone = shown.filter(pl.col("agreement_share").is_null())["site_id"].unique().to_list()
    assert gone == ["site-01"]


def test_the_whole_set_hides_it_too():
    frames = made_up.frames() | {"site_comparison": frame(observed=("not_assessed", "site-01", 3))}
    shown = shared(frames, 11)["site_comparison"]
    assert "site-01" in hidden(shown, "not_assessed")
