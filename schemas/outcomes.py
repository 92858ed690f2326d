"""What each condition is called where it is met, and which outcomes belong to it."""

from collections.abc import Iterable
from dataclasses import dataclass

from schemas.meaning import MeaningError, each_of, some_of
from schemas.measure_words import DEFINITION
from schemas.vocabulary import CONDITION, PROBLEM

GRADED, MEASURED = "graded", "measured"


@dataclass(frozen=True)
class Told:
    """How papers and pages speak of the aids of one condition.

    Attributes:
        letter: what is ringed on the bench log.
        aids: the aids of it, within a sentence.
        found: said to the wearer of an aid that arrived so.
        still: said of one that arrived so and is so after drying.
        now: said of one that arrived otherwise and is so after drying.
    """

    letter: str
    aids: str
    found: str
    still: str
    now: str


TOLD = each_of("TOLD", CONDITION, {
    "dead": Told(
        "D", "dead aids",
        "No sound came from it when it arrived.",
        "There is still no sound after drying.",
        "After drying no sound comes from it.",
    ),
    "weak": Told(
        "W", "weak aids",
        "It was too weak when it arrived.",
        "It is still too weak after drying.",
        "After drying it sounds, but too weakly.",
    ),
    "other_fault": Told(
        "O", "aids with another fault",
        "Its sound was not right when it arrived.",
        "Its sound is still not right after drying.",
        "After drying it sounds, but not as it should.",
    ),
    "normal": Told(
        "N", "working aids",
        "It worked when it arrived.",
        "It still works after drying.",
        "It works after drying.",
    ),
})  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """One outcome of one condition.

    Attributes:
        condition: a word of `CONDITION`, before drying.
        definition: a word of `DEFINITION`.
        told: the aids and their outcome, as a panel of a figure is headed.
        found_by: `GRADED` afterwards, or `MEASURED` before and after.
        is_headline: it is what is meant where one outcome stands for the condition.
        series: the name of it by month and between sites; "" where it is not followed there.
    """

    condition: str
    definition: str
    told: str
    found_by: str = GRADED
    is_headline: bool = False
    series: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """Condition and definition."""
        return self.condition, self.definition

    @property
    def panel(self) -> tuple[str, str, str]:
        """Condition, definition and heading."""
        return self.condition, self.definition, self.told


OUTCOMES = (
    Outcome("dead", "sounds_again", "Dead aids that sound again", is_headline=True,
            series="dead_sounds_again"),
    Outcome("dead", "back_to_normal", "Dead aids back to normal"),
    Outcome("weak", "back_to_normal", "Weak aids back to normal", is_headline=True,
            series="weak_back_to_normal"),
    Outcome("weak", "improved", "Weak aids with a measured improvement", MEASURED),
    Outcome("other_fault", "back_to_normal", "Other faults back to normal", is_headline=True),
    Outcome("normal", "improved", "Working aids with a measured improvement", MEASURED,
            is_headline=True),
    Outcome("normal", "worsened", "Working aids with a measured worsening", MEASURED),
    Outcome("normal", "mixed", "Working aids with mixed changes", MEASURED),
    Outcome("normal", "unchanged", "Working aids unchanged", MEASURED),
    Outcome("normal", "any_positive_change", "Working aids with any gain above zero", MEASURED),
)  # fmt: skip
# The test of an outcome found by grading, in SQL; {after} is the condition after the cycle.
TESTS = some_of(
    "TESTS",
    DEFINITION,
    {"sounds_again": "{after} <> 'dead'", "back_to_normal": "{after} = 'normal'"},
)


def check(outcomes: Iterable[Outcome]) -> None:
    """Refuse outcomes that leave a condition without a headline or name what is no word.

    Two conditions of one letter are refused too: a bench log could not tell them apart.

    Raises:
        MeaningError: naming the condition or the outcome.
    """
    by_letter: dict[str, str] = {}
    for condition, said in TOLD.items():
        if not said.letter or (other := by_letter.setdefault(said.letter, condition)) != condition:
            raise MeaningError(
                f"the condition {condition!r} has no letter of its own ({said.letter!r} is that of"
                f" {other!r}): give it one in schemas/outcomes.py"
            )
    given = tuple(outcomes)
    for one in given:
        known = one.condition in CONDITION and one.definition in DEFINITION and one.told
        if not known or (one.found_by == GRADED) != (one.definition in TESTS):
            raise MeaningError(
                f"the outcome {one.definition!r} of {one.condition!r} aids has no meaning: write"
                " it in schemas/outcomes.py, with its words and its test"
            )
    for condition in CONDITION:
        if sum(one.is_headline for one in given if one.condition == condition) != 1:
            raise MeaningError(
                f"the condition {condition!r} has no headline outcome: write it in"
                " schemas/outcomes.py"
            )


check(OUTCOMES)
DEFINITIONS_OF = {
    condition: tuple(one.definition for one in OUTCOMES if one.condition == condition)
    for condition in CONDITION
}
GRADED_DEFINITIONS = {
    condition: tuple(
        one.definition for one in OUTCOMES if one.condition == condition and one.found_by == GRADED
    )
    for condition in PROBLEM
}
HEADLINES = {one.condition: one for one in OUTCOMES if one.is_headline}
# Outcomes that are followed by month and compared between sites.
FOLLOWED = {one.series: one for one in OUTCOMES if one.series}


def headline_panels(*conditions: str) -> tuple[tuple[str, str, str], ...]:
    """Return condition, definition and heading of the headline of each condition."""
    return tuple(HEADLINES[condition].panel for condition in conditions)
