"""What was found and what became of an aid: the first thing both sheets say."""

from collections.abc import Mapping, Sequence
from typing import Any

from reports import words
from schemas import outcomes, vocabulary
from schemas.meaning import each_of, some_of

Aid = Mapping[str, Any]

FOUND = {condition: said.found for condition, said in outcomes.TOLD.items()}
STILL = {condition: said.still for condition, said in outcomes.TOLD.items()}
NOW = {condition: said.now for condition, said in outcomes.TOLD.items()}
HEADLINE = {
    "works_again": "works again",
    "was_working": "was working and still works",
    "not_checked": "has not been checked after drying",
}
NOT_WORKING = some_of("NOT_WORKING", vocabulary.PROBLEM, {"dead": "does not work"})
NEXT = each_of(
    "NEXT",
    vocabulary.DISPOSITION.but("unknown"),
    {
        "sent_for_repair": "It is sent for repair. Ask us when it will be back, and whether you "
        "can borrow an aid until then.",
        "replaced": "It is replaced by another aid.",
        "kept_for_redrying": "It stays here to be dried once more.",
        "returned_to_wearer": "You have it back as it is. Do not rely on it to hear traffic, "
        "alarms or calls. Ask us about a repair.",
    },
)
UNCHECKED = "Have it checked with us before you rely on it to hear traffic, alarms or calls."
SOME = "Drying brings back some aids and not others."
WHY = "Why it stopped is not known yet: ask us what we find."
AGAIN = (
    "An aid that has stopped once may stop again, above all after salt water or soap: come back at "
    "the first sign."
)
EAR = each_of("EAR", vocabulary.EAR.but("unknown"), {"left": "Left aid", "right": "Right aid"})


def kind(aid: Aid) -> str:
    """Tell what became of an aid.

    Args:
        aid: condition_before (on arrival), condition_before_drying, condition_after.

    Returns:
        `was_working`, `works_again`, `still_not_working`, `stopped` (worked on arrival and does
        not now) or `not_checked` (no condition after drying).
    """
    found, after = aid["condition_before"], aid["condition_after"]
    if after is None:
        return "not_checked"
    if after == "normal":
        always = {found, aid["condition_before_drying"]} == {"normal"}
        return "was_working" if always else "works_again"
    return "stopped" if found == "normal" else "still_not_working"


def is_working(aid: Aid) -> bool:
    """Tell whether the aid was seen to work after drying."""
    return kind(aid) in {"was_working", "works_again"}


def is_restored(aid: Aid) -> bool:
    """Tell whether sound came back, so that the volume set while it was missing may be too high."""
    came_back = aid["condition_before"] == "dead" and aid["condition_after"] in FOUND.keys() - {
        "dead"
    }
    return came_back or kind(aid) == "works_again"


def is_leaving(aid: Aid) -> bool:
    """Tell whether the wearer goes home without the aid."""
    return aid["disposition"] in {"sent_for_repair", "replaced", "kept_for_redrying"}


def name(aid: Aid, *, is_one: bool) -> str:
    """Name the aid for its wearer: by its ear where two were dried."""
    return "Your hearing aid" if is_one else EAR.get(aid["ear"], "One aid")


def headline(aid: Aid) -> str:
    """Say in a few words what became of the aid, after its name."""
    found = kind(aid)
    return HEADLINE.get(found) or NOT_WORKING.get(
        aid["condition_after"], "does not work as it should"
    )


def story(aid: Aid) -> str:
    """Tell what was found and what became of it, in two sentences."""
    found, after, became = aid["condition_before"], aid["condition_after"], kind(aid)
    if became == "not_checked":
        return f"{FOUND[found]} It has not been checked after drying."
    if became == "was_working":
        return f"{FOUND[found]} {STILL[after]}"
    if became == "works_again":
        return f"{FOUND[found]} {_recovery(aid)}"
    if found == after:
        return f"{FOUND[found]} {STILL[after]}"
    return f"{FOUND[found]} {NOW[after]}"


def next_steps(aid: Aid) -> list[str]:
    """Say what happens next with an aid that was not seen to work; empty for one that was."""
    if is_working(aid):
        return []
    if kind(aid) == "not_checked":
        return [NEXT[aid["disposition"]] if is_leaving(aid) else UNCHECKED]
    first = WHY if kind(aid) == "stopped" else SOME
    told: str | None = NEXT.get(aid["disposition"])
    return [first, told] if told else [first]


def path(aid: Aid) -> str:
    """Word the conditions for the clinician: on arrival, after cleaning, after drying, and then."""
    cleaned = aid["condition_after_cleaning"]
    steps: Sequence[str] = (
        f"{words.sentence(aid['condition_before'])} on arrival",
        f"{words.label(cleaned)} after cleaning" if cleaned else "after cleaning not recorded",
        f"{words.label(aid['condition_after'])} after drying"
        if aid["condition_after"]
        else "not assessed after drying",
        "what came next not recorded"
        if aid["disposition"] in {None, "unknown"}
        else words.label(aid["disposition"]),
    )
    return "; ".join(steps)


def _recovery(aid: Aid) -> str:
    cleaned = aid["condition_after_cleaning"]
    if cleaned is None:
        return "It works again after cleaning and drying."
    if aid["condition_before"] == "normal":
        return "It did not work after cleaning, and works again after drying."
    if cleaned == "normal":
        return "It worked again after cleaning and works after drying."
    return "It works again after drying."
