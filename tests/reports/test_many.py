"""What is drawn of very many rows: the ones that stand out, the ends, the rest counted."""

import polars as pl
import pytest

from reports.figures.outcome_ladder import of_sites, steps
from reports.figures.site_comparison import compared_dead
from reports.many import MOST_DRAWN, most_different, standing_out
from reports.pages import MOST_BYTES, page_texts
from tests.reports import made_up, made_up_follow_up
from tests.reports.made_up_sites import many


def rows(n):
    return pl.DataFrame({"label": [f"site {at:03}" for at in range(n)],
                         "rate": [at / n for at in range(n)], "n": [100] * n})  # fmt: skip


@pytest.mark.parametrize(("n", "drawn"), [(MOST_DRAWN, MOST_DRAWN), (MOST_DRAWN + 1, 6)])
def test_all_are_drawn_up_to_the_room_there_is(n, drawn):
    shown = standing_out(rows(n), pl.lit(value=False), "rate")
    assert (shown.drawn.height, shown.left) == (drawn, n - drawn)
    assert bool(shown.told("site")) == (n > MOST_DRAWN)


def test_rows_that_stand_out_and_the_ends_are_drawn_in_the_order_of_the_table():
    frame = rows(400)
    shown = standing_out(frame, pl.col("label").is_in(["site 200", "site 017"]), "rate")
    assert shown.drawn["label"].to_list() == [
        "site 000", "site 001", "site 002", "site 017", "site 200", "site 397", "site 398",
        "site 399",
    ]  # fmt: skip
    assert shown.told("site", "as expected") == ("392 sites more as expected: in the table.",)
    assert standing_out(frame, pl.col("rate") >= 0, "rate").drawn.height == MOST_DRAWN


def test_rows_without_a_number_are_no_ends():
    frame = rows(40).with_columns(pl.when(pl.col("n").cum_count() > 5).then("rate").alias("rate"))
    shown = standing_out(frame, pl.lit(value=None, dtype=pl.Boolean), "rate")
    assert shown.drawn["rate"].null_count() == 0


def test_most_different_is_in_units_of_chance():
    # 0.1 beyond the centre of 400 aids is 4 standard errors, 0.3 beyond of 16 only 2.4.
    frame = pl.DataFrame({"site": ["a", "b", "c", "d"], "share": [0.6, 0.8, 0.5, None],
                          "n": [400, 16, 900, 50]})  # fmt: skip
    shown = most_different(frame, "share", 0.5, "n", 2)
    assert shown.drawn["site"].to_list() == ["a", "b"]
    assert most_different(frame, "share", 0.5, "n", 1).drawn["site"].to_list() == ["a"]


def test_a_comparison_of_400_sites_draws_those_apart_and_counts_the_others():
    one = made_up.site_comparison().filter(outcome="dead_sounds_again", verdict="as_expected")
    apart = made_up.site_comparison().filter(
        pl.col("outcome").eq("dead_sounds_again") & pl.col("verdict").str.contains("than_exp")
    )
    many = pl.concat([one.head(1)] * 400).with_columns(
        pl.Series("site_id", [f"s{at:03}" for at in range(400)])
    )
    frame = pl.concat([many, apart.head(1).with_columns(pl.lit("s999").alias("site_id"))])
    figure = compared_dead({"site_comparison": frame})
    panel, words = figure.panels
    labels = [row["label"] for row in panel.wide["datasets"]["rows"]]
    assert "s999" in labels
    assert len(labels) == 7
    assert "394 sites more" in str(words.html)
    assert figure.table.height == 401


def test_the_ladder_of_many_sites_keeps_the_group_the_spread_and_twelve():
    table = made_up_follow_up.frames()["outcome_ladder"]
    site = table.filter(grouping="site_id")
    first = site.filter(pl.col("group_1") == site["group_1"][0])
    many = [first.with_columns(pl.lit(f"s{at:03}").alias("group_1")) for at in range(40)]
    frame = steps({"outcome_ladder": pl.concat([table.filter(grouping="all"), *many])})
    kept, told = of_sites(frame)
    assert kept.filter(grouping="site_id")["group_1"].n_unique() == 12
    assert kept.filter(grouping="all").height == frame.filter(grouping="all").height
    assert "40 sites with 30 dead aids or more" in told[0]
    assert of_sites(steps({"outcome_ladder": table}))[1] == ()


def test_pages_of_402_sites_keep_their_size():
    texts = page_texts(many(67), made_up.RUN, made_up.SETTINGS, settings_changed={})
    assert sum(name.startswith("at-") for name in texts) == 402
    sizes = {name: len(text.encode()) for name, text in texts.items()}
    assert max(sizes.values()) <= MOST_BYTES, max(sizes, key=sizes.get)
    # Every site stands in the full matrix; the first page holds those that stand out.
    assert texts["every-site.html"].count('<tr data-site="') >= 402
    assert sizes["index.html"] < sizes["every-site.html"] / 2
