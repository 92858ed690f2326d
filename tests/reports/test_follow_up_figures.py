"""Titles and caveats of the figures of what follows a drying are true of their frames."""

import polars as pl
import pytest

from reports.figures.after_rescue import after_rescue
from reports.figures.cycle_dry import cycle_dry
from reports.figures.cycle_outcome import cycle_rescue
from reports.figures.outcome_ladder import outcome_ladder
from reports.figures.recheck import recheck_days, recheck_gain
from reports.figures.repairs_avoided import repairs_avoided
from tests.reports import made_up_follow_up as made_up

THIN = "\u202f"


def test_the_next_problem_is_named_at_half_a_year():
    figure = after_rescue(made_up.frames())
    assert figure.title.text.startswith(
        f"20{THIN}% of rescued dead aids had a new problem within 180"
    )
    assert [panel.heading for panel in figure.panels] == ["Dead", "Weak", "Other fault", "Working"]
    hidden = made_up.time_to_failure().with_columns(pl.lit(None, pl.Float64).alias("share_failed"))
    assert after_rescue({"time_to_failure": hidden}).title.rule == "after.too_few"


def test_the_ladder_sets_cleaning_against_drying():
    figure = outcome_ladder(made_up.frames())
    assert figure.title.text == (
        f"Of dead aids 33{THIN}% worked after cleaning and 28{THIN}% more after drying"
    )
    # A step that no aid took is left out; the rest add up to the aids seen.
    assert "not_dried" not in set(figure.table["step"])
    every = figure.table.filter(pl.col("grouping") == "all")
    assert (
        every.group_by("condition_before")
        .agg((pl.col("ended_here").sum() == pl.col("n").first()).alias("whole"))["whole"]
        .all()
    )


def test_lengths_are_named_only_where_their_intervals_are_apart():
    figure = cycle_rescue(made_up.frames())
    assert figure.title.rule == "cycle.apart"
    assert "wettest third" in figure.title.text
    rows = figure.table.filter(pl.col("moisture_third") == "wettest").to_dicts()
    short, long = (next(r for r in rows if r["minutes"] == minutes) for minutes in (20, 30))
    assert long["low"] > short["high"]
    even = made_up.cycle_length().with_columns(pl.lit(0.1).alias("low"), pl.lit(0.9).alias("high"))
    assert cycle_rescue({"cycle_length": even}).title.rule == "cycle.not_apart"


def test_minutes_are_withheld_where_the_maker_states_none():
    said = " ".join(cycle_dry(made_up.frames()).caveats)
    assert "Fixed time (fixed 30): the time to dry cannot be known." in said
    assert "No minutes saved" not in said
    unstated = made_up.cycle_length().with_columns(pl.lit(None, pl.Float64).alias("saved_minutes"))
    assert "No minutes saved are shown" in " ".join(cycle_dry({"cycle_length": unstated}).caveats)
    fixed = made_up.cycle_length().filter(~pl.col("is_time_known"))
    assert cycle_dry({"cycle_length": fixed}).title.text == "The time to dry cannot be known yet"


def test_the_length_named_dries_nine_tenths():
    figure = cycle_dry(made_up.frames())
    rows = figure.table.filter(
        (pl.col("load_kind") == "one_aid") & (pl.col("exposed") == "not_exposed")
        & (pl.col("low") >= 0.9)
    )  # fmt: skip
    assert f"{rows['minutes'].min():.0f} minutes" in figure.title.text


@pytest.mark.parametrize("level", [None, 4.0])
def test_an_interval_is_suggested_only_with_an_action_level(level):
    frames = {"recheck_interval": made_up.recheck_interval(level)}
    gain, days = recheck_gain(frames), recheck_days(frames)
    assert gain.title.text == (
        "Median water: 1.0 µL under 30 days after drying, 2.6 µL after 365 days or more"
    )
    if level is None:
        assert "not set an action level" in days.subtitle
        assert (days.title.rule, days.panels) == ("no_rows", ())
    else:
        assert days.title.text == (
            "A tenth of aids are over the action level after 66 days (55 to 80)"
        )
        assert days.table["label"].to_list()[0] == "every style"


def test_repairs_are_a_range_over_what_would_have_recovered_anyway():
    figure = repairs_avoided(made_up.frames())
    assert figure.title.text.startswith("475 to 950 repairs not needed within 90 days")
    assert "net of chamber and staff minutes" in " ".join(figure.caveats)
    one = made_up.repairs_avoided().filter(pl.col("share_recovering_anyway") == 0.25)
    assert repairs_avoided({"repairs_avoided": one}).title.text == (
        f"712 repairs avoided, if 25{THIN}% would have recovered without drying"
    )
    free = made_up.repairs_avoided().with_columns(pl.lit(None, pl.Float64).alias("net_value"))
    assert "No money is shown" in " ".join(repairs_avoided({"repairs_avoided": free}).caveats)
