"""Titles and caveats of the figures of what follows a drying are true of their frames."""

import polars as pl
import pytest

from reports.brief import fates
from reports.figures import cycle_dry as cycle_dry_figure
from reports.figures.after_rescue import LAST_DAY, NAMED_DAYS, after_rescue, crossing, days_to_tenth
from reports.figures.cycle_dry import cycle_dry
from reports.figures.cycle_outcome import cycle_rescue
from reports.figures.outcome_ladder import outcome_ladder
from reports.figures.recheck import recheck_days, recheck_gain
from reports.figures.repairs_avoided import repairs_avoided
from reports.levels import with_level
from tests.reports import made_up_follow_up as made_up

AT_95 = {"confidence_level": 0.95}

THIN = "\u202f"


def test_the_next_problem_is_named_on_the_day_that_the_overview_names():
    figure = after_rescue(made_up.frames())
    assert figure.title.text.startswith(
        "Dead aids that work after drying: new problem in a tenth by day "
    )
    assert f", 13{THIN}% by 90 (" in figure.title.text
    assert fates.CAME_BACK_DAYS == NAMED_DAYS
    # The made-up table follows 8 aids with other faults: too few for a curve.
    assert [panel.heading for panel in figure.panels] == [
        f"{name}, 70{THIN}% seen again" for name in ("Dead", "Weak", "Working")
    ]
    hidden = made_up.time_to_failure().with_columns(pl.lit(None, pl.Float64).alias("share_failed"))
    assert after_rescue({"time_to_failure": hidden}).title.rule == "after.too_few"


@pytest.mark.parametrize(
    ("shares", "lows", "highs", "told"),
    [
        ((0.04, 0.10, 0.14), (0.02, 0.07, 0.12), (0.06, 0.13, 0.18), "60 (47 to 78)"),
        ((0.04, 0.099, 0.14), (0.02, 0.07, 0.12), (0.10, 0.13, 0.18), "61 (30 to 78)"),
        ((0.04, 0.08, 0.12), (0.02, 0.05, 0.09), (0.06, 0.09, 0.15), "75 (65 to over 90)"),
        ((0.01, 0.02, 0.03), (0.0, 0.01, 0.02), (0.02, 0.03, 0.04), None),
    ],
)
def test_the_days_to_a_tenth_have_limits_where_the_band_crosses(shares, lows, highs, told):
    own = pl.DataFrame({"days": [30, 60, 90], "share_failed": shares, "adjusted_low": lows,
                        "adjusted_high": highs})  # fmt: skip
    assert days_to_tenth(own) == told


@pytest.mark.parametrize(
    ("shares", "told"),
    [
        ((0.04, None, 0.14), "in a tenth at the latest by day 90, "),
        ((None, 0.11, 0.14), "in a tenth at the latest by day 60, "),
        ((None, 0.04, 0.14), "in a tenth by day 78 ("),
        ((0.04, 0.11, 0.14), "in a tenth by day 56 ("),
        ((0.04, None, 0.09), "in under a tenth by day 90, "),
    ],
)
def test_hidden_days_before_a_tenth_make_its_day_the_latest(shares, told):
    rows = made_up.time_to_failure().filter(
        (pl.col("condition_before") == "dead") & pl.col("days").is_in([30, 60, 90])
    )
    columns = {"share_failed": shares, "adjusted_low": [s and s - 0.02 for s in shares],
               "adjusted_high": [s and s + 0.02 for s in shares]}  # fmt: skip
    by_day = {name: dict(zip((30, 60, 90), of, strict=True)) for name, of in columns.items()}
    own = rows.with_columns(
        pl.col("days").replace_strict(values, return_dtype=pl.Float64).alias(name)
        for name, values in by_day.items()
    )
    assert told in after_rescue({"time_to_failure": own}).title.text
    left_out = own.drop_nulls("share_failed")  # as a shared edition leaves days out
    assert told in after_rescue({"time_to_failure": left_out}).title.text


@pytest.mark.parametrize("tenth", [20, 45, 62, 100, 170])
def test_the_day_of_a_tenth_is_that_of_a_known_curve(tenth):
    days = list(range(30, 721, 30))
    known = [1 - 0.9 ** (day / tenth) for day in days]  # a constant hazard: a tenth by that day
    assert crossing(days, known) == pytest.approx(tenth, abs=1.0)
    assert crossing(days[:1], [0.099]) is None


def test_the_least_length_is_told_by_kind_of_load_and_exposure():
    def kind(load, exposed, lows):
        return [{"programme_words": "until dry", "load_kind": load, "exposed": exposed,
                 "n": 500, "minutes": minutes, "share_dry": low + 0.01, "low": low}
                for minutes, low in zip((30.0, 35.0), lows, strict=True)]  # fmt: skip

    rows = [*kind("one_aid", "not_exposed", (0.9, 0.99)), *kind("one_aid", "exposed", (0.89, 0.9)),
            *kind("two_aids", "exposed", (0.8, 0.95))]  # fmt: skip
    assert cycle_dry_figure.title(pl.DataFrame(rows)).text == (
        f"Minutes that dry 9 in 10 loads: one aid 30 (91{THIN}%), exposed 35 (91{THIN}%); two aids "
        f"exposed 35 (96{THIN}%)"
    )
    never = [*kind("one_aid", "not_exposed", (0.8, 0.89)), *kind("one_aid", "exposed", (0.9, 0.99))]
    assert cycle_dry_figure.title(pl.DataFrame(never)).rule == "dry.not_apart"


@pytest.mark.parametrize(("last", "days"), [(30, [90, 180, 360]), (29, [90, 180])])
def test_a_curve_ends_where_under_30_are_followed(last, days):
    frame = made_up.time_to_failure().filter(condition_before="dead")
    followed = {30: None, 60: 29, 90: 500, 180: 200, 360: last, 720: 5}
    frame = frame.with_columns(pl.col("days").replace_strict(followed).alias("at_risk"))
    (panel,) = after_rescue({"time_to_failure": frame}).panels
    drawn = panel.wide["datasets"]["rows"]
    assert [row["days"] for row in drawn] == days
    assert [row["at_risk_words"] for row in drawn][:2] == ["500", "200"]


def test_the_ladder_sets_cleaning_against_drying():
    figure = outcome_ladder(made_up.frames())
    assert figure.title.text == (
        f"Of dead aids 33{THIN}% worked after cleaning and 28{THIN}% more after drying; order of "
        f"work unknown for 10{THIN}%"
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
    figure = cycle_rescue(with_level(made_up.frames(), AT_95))
    assert figure.title.rule == "cycle.apart"
    assert "wettest third" in figure.title.text
    rows = figure.table.filter(pl.col("moisture_third") == "wettest").to_dicts()
    short, long = (next(r for r in rows if r["minutes"] == minutes) for minutes in (20, 30))
    assert long["low"] > short["high"]
    even = made_up.cycle_length().with_columns(pl.lit(0.1).alias("low"), pl.lit(0.9).alias("high"))
    assert cycle_rescue(with_level({"cycle_length": even}, AT_95)).title.rule == "cycle.not_apart"


def test_minutes_are_withheld_where_the_maker_states_none():
    said = " ".join(cycle_dry(made_up.frames()).caveats)
    assert "Fixed time (fixed 30): the time to dry cannot be known." in said
    assert "No minutes saved" not in said
    unstated = made_up.cycle_length().with_columns(pl.lit(None, pl.Float64).alias("saved_minutes"))
    assert "No minutes saved are shown" in " ".join(cycle_dry({"cycle_length": unstated}).caveats)
    fixed = made_up.cycle_length().filter(~pl.col("is_time_known"))
    assert cycle_dry({"cycle_length": fixed}).title.text == "The time to dry cannot be known yet"


def test_a_curve_of_drying_ends_where_under_30_loads_still_dry():
    figure = cycle_dry(made_up.frames())
    drawn = [row["minutes"] for row in figure.panels[0].wide["datasets"]["rows"]]
    # 100 loads are drying just before 45 minutes.
    assert max(drawn) == 45
    fewer = made_up.cycle_length().with_columns(
        pl.when(pl.col("minutes") == 45).then(29).otherwise("loads_at_risk").alias("loads_at_risk")
    )
    drawn = cycle_dry({"cycle_length": fewer}).panels[0].wide["datasets"]["rows"]
    assert max(row["minutes"] for row in drawn) == 40


def test_the_length_named_dries_nine_tenths():
    figure = cycle_dry(made_up.frames())
    rows = figure.table.filter(
        (pl.col("load_kind") == "one_aid") & (pl.col("exposed") == "not_exposed")
        & (pl.col("low") >= 0.9)
    )  # fmt: skip
    assert f"one aid {rows['minutes'].min():.0f} (" in figure.title.text


@pytest.mark.parametrize("level", [None, 4.0])
def test_an_interval_is_suggested_only_with_an_action_level(level):
    frames = {"recheck_interval": made_up.recheck_interval(level)}
    gain, days = recheck_gain(frames), recheck_days(frames)
    assert gain.title.text == (
        "Median water: 1.0 µL under 30 days after drying, 2.6 µL after a year or more"
    )
    if level is None:
        assert "for the group's clinical lead to say" in days.subtitle
        assert (days.title.rule, days.panels) == ("no_rows", ())
    else:
        assert days.title.text == (
            "A tenth of aids are over the action level after 66 days (55 to 80)"
        )
        assert days.table["label"].to_list()[0] == "every style"


def test_repairs_are_a_counterfactual_and_never_more_than_it_says():
    figure = repairs_avoided(made_up.frames())
    assert figure.title.text == (
        "Drying may have spared at most 500 (450 to 550) repairs or replacements, had none "
        "worked anyway"
    )
    (told,) = (text for text in figure.caveats if text.startswith("Had the aids"))
    assert told == (
        "Had the aids that work after drying been sent on as often as those that do not, about "
        "500 (450 to 550) fewer repairs or replacements within 90 days, had none worked anyway. "
        "Those still not working may be worse aids, so read it as at most; some repairs are put "
        "off, not avoided."
    )
    assert "net of chamber and staff minutes" in " ".join(figure.caveats)
    headings = [panel.heading for panel in figure.panels]
    assert headings[1:] == ["Sent on within 90 days, if still not working",
                            "Sent on within 90 days, working after drying"]  # fmt: skip
    one = made_up.repairs_avoided().filter(pl.col("share_recovering_anyway") == 0.25)
    assert f", had 25{THIN}% worked anyway" in repairs_avoided({"repairs_avoided": one}).title.text
    free = made_up.repairs_avoided().with_columns(pl.lit(None, pl.Float64).alias("net_value"))
    assert "No money is shown" in " ".join(repairs_avoided({"repairs_avoided": free}).caveats)


@pytest.mark.parametrize(
    ("low", "high", "rule", "state"),
    [
        (-5.0, 20.0, "repairs.not_apart", "nothing_clear"),
        (0.0, 20.0, "repairs.not_apart", "nothing_clear"),
        (0.5, 20.0, "repairs.fewer", "finding"),
        (-20.0, -1.0, "repairs.more", "finding"),
        (None, None, "repairs.too_few", "nothing_to_compare"),
    ],
)
def test_the_title_follows_the_interval(low, high, rule, state):
    value = None if low is None else (low + high) / 2
    frame = made_up.repairs_avoided().with_columns(
        pl.lit(value, pl.Float64).alias("avoided"), pl.lit(low, pl.Float64).alias("low"),
        pl.lit(high, pl.Float64).alias("high"),
        pl.lit("not_estimable" if value is None else "value").alias("avoided_state"),
    )  # fmt: skip
    found = repairs_avoided({"repairs_avoided": frame}).title
    assert (found.rule, found.state) == (rule, state)
    assert (value is None) == ("Fewer than 20 aids" in found.text)


def test_a_measured_share_names_the_aids_it_rests_on():
    frame = made_up.repairs_avoided().filter(pl.col("share_recovering_anyway") == 0.25)
    frame = frame.with_columns(pl.lit("measured").alias("share_basis"),
                               pl.lit(84).alias("only_cleaned"))  # fmt: skip
    figure = repairs_avoided({"repairs_avoided": frame})
    assert "comes from 84 dead and weak aids that were only cleaned" in " ".join(figure.caveats)
    assert "(measured)" in figure.alt


def test_days_past_the_axis_stand_in_the_table_and_are_not_drawn():
    frames = made_up.frames()
    found = frames["time_to_failure"]
    later = found.filter(pl.col("days") == pl.col("days").max()).with_columns(
        pl.lit(1800, found["days"].dtype).alias("days")
    )
    figure = after_rescue(frames | {"time_to_failure": pl.concat([found, later])})
    assert 1800 in figure.table["days"]
    drawn = [row["days"] for panel in figure.panels for row in panel.wide["datasets"]["rows"]]
    assert drawn
    assert max(drawn) <= LAST_DAY
