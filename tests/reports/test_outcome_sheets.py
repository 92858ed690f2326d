"""A wearer's sheet says first what was found and what became of the aid, and no more than fits."""

from dataclasses import replace

import pytest

from reports.sheets import outcome
from reports.sheets.handout import handout_text
from tests.reports import made_up_sheets as made
from tests.reports.test_sheets import words_of

CONDITIONS = ("dead", "weak", "other_fault", "normal")
EVERY = [
    made.told(found, cleaned, after, disposition=disposition)
    for found in CONDITIONS
    for cleaned in (None, *CONDITIONS)
    for after in (None, *CONDITIONS)
    for disposition in (None, "returned_to_wearer", "sent_for_repair", "replaced",
                        "kept_for_redrying", "unknown")
]  # fmt: skip


@pytest.mark.parametrize(
    ("found", "cleaned", "after", "kind", "headline", "story"),
    [
        ("normal", "normal", "normal", "was_working", "was working and still works",
         "It worked when it arrived. It still works after drying."),
        ("normal", None, "normal", "was_working", "was working and still works",
         "It worked when it arrived. It still works after drying."),
        ("normal", "dead", "normal", "works_again", "works again",
         "It worked when it arrived. It did not work after cleaning, and works again after "
         "drying."),
        ("dead", "dead", "normal", "works_again", "works again",
         "No sound came from it when it arrived. It works again after drying."),
        ("weak", "normal", "normal", "works_again", "works again",
         "It was too weak when it arrived. It worked again after cleaning and works after drying."),
        ("other_fault", None, "normal", "works_again", "works again",
         "Its sound was not right when it arrived. It works again after cleaning and drying."),
        ("dead", "dead", "dead", "still_not_working", "does not work",
         "No sound came from it when it arrived. There is still no sound after drying."),
        ("dead", "dead", "weak", "still_not_working", "does not work as it should",
         "No sound came from it when it arrived. After drying it sounds, but too weakly."),
        ("weak", "weak", "weak", "still_not_working", "does not work as it should",
         "It was too weak when it arrived. It is still too weak after drying."),
        ("weak", "weak", "dead", "still_not_working", "does not work",
         "It was too weak when it arrived. After drying no sound comes from it."),
        ("weak", "normal", "weak", "still_not_working", "does not work as it should",
         "It was too weak when it arrived. It is still too weak after drying."),
        ("other_fault", None, "other_fault", "still_not_working", "does not work as it should",
         "Its sound was not right when it arrived. Its sound is still not right after drying."),
        ("normal", "normal", "dead", "stopped", "does not work",
         "It worked when it arrived. After drying no sound comes from it."),
        ("normal", "normal", "other_fault", "stopped", "does not work as it should",
         "It worked when it arrived. After drying it sounds, but not as it should."),
        ("dead", "dead", None, "not_checked", "has not been checked after drying",
         "No sound came from it when it arrived. It has not been checked after drying."),
    ],
)  # fmt: skip
def test_what_was_found_and_what_became_of_it(found, cleaned, after, kind, headline, story):
    given = made.told(found, cleaned, after)
    assert outcome.kind(given.aid) == kind
    assert outcome.headline(given.aid) == headline
    assert outcome.story(given.aid) == story
    words = words_of(handout_text(given), "wearer")
    assert words.index(f"Your hearing aid {headline}.") < words.index(story)
    assert words.index(story) < words.index("Please take care")


@pytest.mark.parametrize("given", [made.DEAD, made.STOPPED, made.UNCHECKED, made.PAIR])
def test_an_aid_not_seen_to_work_has_no_tick_and_no_usual(given):
    text = handout_text(given)
    for sign in ("✓", 'class="chosen"', 'class="bands"', "What that does not mean", "than usual"):
        assert sign not in text, sign
    assert "What happens next" in words_of(text, "wearer")
    assert "come back for drying" not in text


def test_no_combination_gives_a_dead_aid_a_tick_or_leaves_a_gap():
    for given in EVERY:
        aid = given.aid
        steps = outcome.next_steps(aid)
        assert bool(steps) == (aid["condition_after"] != "normal"), aid
        assert all(text.endswith(".") for text in [*steps, outcome.story(aid)]), aid
        assert "None" not in outcome.path(aid), aid
        assert outcome.is_working(aid) == (aid["condition_after"] == "normal"), aid


@pytest.mark.parametrize(
    ("found", "cleaned", "after", "says"),
    [
        ("dead", "dead", "normal", True),
        ("dead", "dead", "weak", True),
        ("dead", None, "other_fault", True),
        ("weak", "weak", "normal", True),
        ("other_fault", "normal", "normal", True),
        ("normal", "normal", "normal", False),
        ("dead", "dead", "dead", False),
        ("weak", "weak", "weak", False),
        ("weak", "weak", "dead", False),
        ("normal", "normal", "dead", False),
        ("dead", "dead", None, False),
    ],
)
def test_volume_is_spoken_of_only_where_sound_came_back(found, cleaned, after, says):
    text = handout_text(made.told(found, cleaned, after))
    assert ("low volume" in words_of(text, "wearer")) == says
    assert ("volume setting" in words_of(text, "clinician")) == says


@pytest.mark.parametrize(
    ("disposition", "says", "heading"),
    [
        ("sent_for_repair", "It is sent for repair.", "Once you have an aid again"),
        ("replaced", "It is replaced by another aid.", "Once you have an aid again"),
        ("kept_for_redrying", "dried once more", "Once you have an aid again"),
        ("returned_to_wearer", "Do not rely on it to hear traffic", "At home"),
        ("unknown", "We agreed:", "At home"),
        (None, "We agreed:", "At home"),
    ],
)
def test_what_happens_next_follows_the_record(disposition, says, heading):
    words = words_of(handout_text(made.told("dead", "dead", "dead", disposition=disposition)),
                     "wearer")  # fmt: skip
    assert says in words
    assert heading in words
    assert "Drying brings back some aids and not others." in words


def test_an_aid_that_stopped_is_not_told_that_drying_helps_some():
    words = words_of(handout_text(made.STOPPED), "wearer")
    assert "Why it stopped is not known yet" in words
    assert "Drying brings back" not in words


def test_an_unchecked_aid_is_not_to_be_relied_on():
    words = words_of(handout_text(made.UNCHECKED), "wearer")
    assert "Have it checked with us before you rely on it" in words
    kept = made.told("weak", None, None, disposition="kept_for_redrying")
    assert "dried once more" in words_of(handout_text(kept), "wearer")


def test_a_rescued_aid_gets_a_day_and_a_warning_not_the_months_of_working_aids():
    words = words_of(handout_text(made.RESCUED), "wearer")
    assert "Please come back on:" in words
    assert "may stop again" in words
    assert "4 months" not in words
    working = words_of(handout_text(made.HANDOUT), "wearer")
    assert "may stop again" not in working


def test_a_working_aid_without_a_comparison_is_told_so_to_the_clinician_only():
    given = replace(made.HANDOUT, comparison=None, refused=("The chamber was out of tolerance.",))
    text = handout_text(given)
    assert 'class="bands"' not in text
    assert "tolerance" not in words_of(text, "wearer")
    assert "come back for drying in about 4 months" in words_of(text, "wearer")
    words = words_of(text, "clinician")
    assert "The chamber was out of tolerance." in words
    assert "centile" not in words


def test_the_clinicians_copy_leads_with_the_path_and_lists_every_reason():
    words = words_of(handout_text(made.PAIR), "clinician")
    start = words.index("Left aid. Dead on arrival; dead after cleaning; dead after drying; sent "
                        "for repair.")  # fmt: skip
    assert start < words.index("Not set against peers")
    assert "Right aid. Dead on arrival" in words
    for reason in made.PAIR.refused:
        assert reason.replace("'", "&#39;") in words
    assert "Water per aid" not in words


def test_a_reading_of_an_exposed_aid_is_shown_without_a_range():
    text = handout_text(made.RESCUED)
    words = words_of(text, "clinician")
    assert "Water per aid: 2.40 µL" in words
    assert "Shaded" not in words
    assert "centile" not in words


def test_two_aids_are_told_apart_by_their_ear():
    words = words_of(handout_text(made.PAIR), "wearer")
    assert "Your hearing aids were dried" in words
    assert "Left aid does not work." in words
    assert "Right aid works again." in words
    twins = replace(made.PAIR, aids=tuple(aid | {"ear": "unknown"} for aid in made.PAIR.aids))
    assert words_of(handout_text(twins), "wearer").count("One aid") == 2


def test_no_sheet_blames():
    for given in made.CASES.values():
        words = words_of(handout_text(given), "wearer").lower()
        for bad in ("fault", "should have", "careless", "neglect", "your mistake", "centile", "µl"):
            assert bad not in words, bad
