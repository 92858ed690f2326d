"""What the page says of routine drying: stopped aids first, every number with its limit."""

import polars as pl
import pytest

from reports.figure import FINDING, NOTHING_CLEAR, NOTHING_TO_COMPARE
from reports.figures.regression_to_mean import regression_to_mean
from reports.figures.routine_arms import PARTS, routine_arms
from reports.figures.routine_verdict import routine_verdict
from reports.figures.routine_words import answer, caveats, title
from tests.disclosure.shared import shared
from tests.reports.made_up import frames, routine_drying, routine_drying_verdict

THIN = "\u202f"


def row(**more) -> dict:
    return routine_drying_verdict(**more).row(0, named=True)


HARM = {
    "verdict": "may_harm", "rule": "more_stopped", "dried_stopped": 46, "dried_assessed": 5199,
    "cleaned_stopped": 0, "cleaned_assessed": 6368, "stopped_excess": 0.0088,
    "stopped_excess_low": 0.006, "stopped_excess_high": 0.012,
}  # fmt: skip
OPEN = {
    "verdict": "cannot_tell", "rule": "stopped_not_settled", "dried_stopped": 12,
    "dried_assessed": 2000, "cleaned_stopped": 11, "cleaned_assessed": 1998,
    "stopped_excess": 0.0005, "stopped_excess_low": -0.004, "stopped_excess_high": 0.013,
    "settling_per_arm": 2345,
}  # fmt: skip
LIMITS = {"effect": 0.025, "effect_low": 0.017, "effect_high": 0.033}


@pytest.mark.parametrize(
    ("more", "state", "text"),
    [
        ({}, FINDING, "Routine drying seems worth it: 8.0 in 100 gain (6.8 to 9.2), 5 asked for;"
         " stopped +0.1 (up to 0.7)"),
        ({"basis": "planned"}, FINDING, "Routine drying is worth it: 8.0 in 100 gain (6.8 to"
         " 9.2), 5 asked for; stopped +0.1 (up to 0.7)"),
        ({"verdict": "helps_little", "rule": "net_below_worthwhile", **LIMITS}, FINDING,
         "Routine drying seems not worth it: 2.5 in 100 gain (1.7 to 3.3), 5 asked for; stopped"
         " +0.1 (up to 0.7)"),
        ({"verdict": "no_effect_shown", "rule": "within_worthwhile", "effect": -0.004,
          "effect_low": -0.02, "effect_high": 0.012}, FINDING,
         "Routine drying seems not worth it: no gain shown, −0.4 in 100 (−2.0 to 1.2); stopped"
         " +0.1 (up to 0.7)"),
        (HARM, FINDING, f"More aids stop after drying: 46 of 5{THIN}199, only cleaned 0 of"
         f" 6{THIN}368; 0.9 in 100 more (0.6 to 1.2)"),
        (HARM | {"basis": "interim", "planned_per_arm": 9000}, FINDING,
         f"More aids stop after drying: 46 of 5{THIN}199, only cleaned 0 of 6{THIN}368; 0.9 in 100"
         " more (0.6 to 1.2)"),
        ({"verdict": "may_harm", "rule": "net_below_zero", "effect": -0.1, "effect_low": -0.14,
          "effect_high": -0.06}, FINDING, "Routine drying may harm: −10.0 in 100"
         " (−14.0 to −6.0), more worse than better; stopped +0.1 (up to 0.7)"),
        (OPEN, NOTHING_CLEAR, f"Not settled: 12 of 2{THIN}000 dried aids stopped, 11 of 1{THIN}998"
         f" only cleaned; up to 1.3 in 100 more (n = 4{THIN}000)"),
        ({"verdict": "cannot_tell", "rule": "unassessed_not_settled", "unknown_excess_high": 0.031},
         NOTHING_CLEAR, "Not settled: aids without a record afterwards could hide up to 3.1 in 100"
         f" more stopped (n = 4{THIN}000)"),
        ({"verdict": "cannot_tell", "rule": "interim", "basis": "interim", "planned_per_arm": 2500},
         NOTHING_CLEAR, f"Whether routine drying helps cannot be told: 1{THIN}970 of 2{THIN}500"
         f" planned aids of each kind (n = 4{THIN}000)"),
        ({"verdict": "cannot_tell", "rule": "few_clusters"}, NOTHING_TO_COMPARE,
         f"27 of 2{THIN}850 dried working aids stopped; if drying helps cannot be told: under 10"
         " wearers or weeks of one kind"),
        ({"verdict": "cannot_tell", "rule": "unmeasured_decide"}, NOTHING_CLEAR,
         "Whether routine drying helps cannot be told: dried aids that nobody measured decide"
         f" (n = 4{THIN}000)"),
    ],
)  # fmt: skip
def test_title(more, state, text):
    found = title(row(**more))
    assert (found.text.replace("\u2212", "−"), found.state) == (text, state)
    assert len(found.text) <= 110


def test_every_verdict_on_benefit_tells_the_aids_stopped_and_their_upper_limit():
    for verdict, rule in (("helps", "net_worthwhile"), ("helps_little", "net_below_worthwhile"),
                          ("no_effect_shown", "within_worthwhile")):  # fmt: skip
        given = row(verdict=verdict, rule=rule)
        assert "up to 0.7" in title(given).text
        assert caveats(given)[0].startswith("Stopped working: 16 of 1\u202f970 dried aids")


@pytest.mark.parametrize(
    ("verdict", "rule", "start"),
    [
        ("helps", "net_worthwhile", "Yes"),
        ("helps_little", "net_below_worthwhile", "No, not as a routine"),
        ("no_effect_shown", "within_worthwhile", "No, not as a routine"),
        ("may_harm", "net_below_zero", "No: stop"),
        ("cannot_tell", "too_wide", "Not known yet"),
    ],
)
def test_the_open_text_answers_yes_or_no_and_names_the_sites_that_are_the_exception(
    verdict, rule, start
):
    given = row(verdict=verdict, rule=rule)
    told = answer(given, ["Ash Lane"])
    assert told.startswith(start)
    assert "at Ash Lane working aids stop or get worse more often" in told
    assert "That is the average" not in answer(given, [])
    is_settled = verdict in ("helps", "helps_little", "no_effect_shown")
    assert ("No harm is shown on average" in told) == is_settled
    assert ("does not settle" in told) == (verdict != "cannot_tell")
    assert "does not settle" not in answer(row(verdict=verdict, rule=rule, basis="planned"), [])


@pytest.mark.parametrize(("sites", "more"), [(4, False), (5, True)])
def test_four_sites_are_named_and_more_are_counted(sites, more):
    told = answer(row(), [f"S{at}" for at in range(sites)])
    assert ("and 1 more" in told) == more


def test_what_is_not_settled_is_told_with_what_would_settle_it():
    told = " ".join(caveats(row(**OPEN)))
    assert (
        f"Not settled: 12 of 2{THIN}000 dried aids stopped, 11 of 1{THIN}998 only cleaned; up to"
        f" 1.3 in 100 more cannot be excluded; about 2{THIN}345 of each kind would settle it."
    ) in told
    unknown = caveats(row(**OPEN | {"settling_per_arm": None}))
    assert unknown[1].endswith("up to 1.3 in 100 more cannot be excluded.")


def test_harm_says_which_aids_and_what_to_do_first():
    told = caveats(row(**HARM | {"all_dried_assessed": 6000, "all_dried_stopped": 51}))
    text = " ".join(told)
    assert told[0].startswith("Stopped working: 46 of")
    assert f"Of all dried working aids, compared or not, 51 of 6{THIN}000 stopped (0.6 to" in text
    assert "stopped_aid" in text
    assert "makers' instructions" in text
    assert "A wet aid is dried all the same" in text


def test_aids_without_a_record_are_bounded_in_words():
    text = " ".join(caveats(row()))
    assert "Without a record afterwards: 30 dried and 30 cleaned-only aids." in text
    assert "the difference −1.4 to 1.6 in 100" in text.replace("\u2212", "−")
    assert "Graded weak, the measures not worse (not counted as stopped): 12 dried" in text
    none = row(dried_no_after=0, cleaned_no_after=0, dried_grade_different=0,
               cleaned_grade_different=0)  # fmt: skip
    assert "Without a record" not in " ".join(caveats(none))


def test_a_hidden_count_is_said_to_be_hidden():
    shown = shared({"routine_drying_verdict": routine_drying_verdict(cleaned_stopped=3)}, 11)
    given = shown["routine_drying_verdict"].row(0, named=True)
    assert title(given).text.endswith("stopped hidden")
    assert (
        caveats(given)[0]
        == "How many aids stopped working is hidden: it is few among dried or cleaned aids."
    )
    harm = title(given | {"verdict": "may_harm", "rule": "more_stopped"}).text
    assert "more aids stop after drying" in harm
    open_ = title(given | {"verdict": "cannot_tell", "rule": "stopped_not_settled"}).text
    assert open_.startswith("Not settled: whether more working aids stop")
    assert "None" not in " ".join(caveats(given)) + harm + open_


def test_stopped_aids_lead_the_drawing_and_its_table():
    figure = routine_verdict(frames())
    assert figure.table["label"].to_list()[:2] == ["Stopped working", "Those without a record too"]
    assert figure.panels[0].heading.startswith("Stopped working")
    assert figure.alt.index("Stopped working") < figure.alt.index("net +")
    assert figure.caveats[0].startswith("Yes, by the mark set for it.")
    assert figure.table["dried_count"][0] == 16


def test_every_class_of_outcome_stands_in_both_arms():
    figure = routine_arms(frames())
    assert figure.table.height == 2 * len(PARTS)
    assert figure.table["label"][0] == "Stopped working, dried"
    counts = figure.table.filter(
        (pl.col("part") != "any_positive_change") & pl.col("label").str.ends_with("dried")
    )
    assert counts["count"].sum() == 2000


def test_more_stopped_leads_the_title_of_the_arms():
    given = routine_drying().with_columns(
        pl.when((pl.col("part") == "stopped") & (pl.col("method") == "newcombe"))
        .then(0.002).otherwise("effect_low").alias("effect_low")
    )  # fmt: skip
    assert routine_arms({"routine_drying": given}).title.text.startswith(
        "More aids stop after drying: 0.8"
    )


def test_stopped_aids_are_counted_beside_the_rise_of_the_others():
    figure = regression_to_mean(frames())
    assert figure.caveats[0].startswith(f"Left out because they stopped working: 24 of 1{THIN}680")
