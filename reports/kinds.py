"""Kinds of question and the forms that answer them; each figure names its kind."""

from dataclasses import dataclass

from reports.figure import Figure

# Forms: intervals (dot and interval), quantiles (distribution), strip (100 aids), curve, over_time
# (lines over months), signals (signs by row and month), funnel, heat and calendar (tables of
# cells), dose (reading against dose), words (sentences right under a picture).
WORDS = "words"


@dataclass(frozen=True)
class Kind:
    """How a reader asks, and in which forms the answer may come."""

    asks: str
    forms: tuple[str, ...]


KINDS = {
    "fate": Kind("what happens to 100 aids?", ("strip",)),
    "compare": Kind("is it more or less, and how sure is it?", ("intervals", "quantiles")),
    "chance": Kind("how far from the group would chance alone take it?", ("funnel",)),
    "when": Kind("by when, and how many are still followed?", ("curve",)),
    "climates": Kind("which style in which season, within each climate?", ("heat",)),
    "much": Kind("is it a lot?", ("quantiles",)),
    "reads_right": Kind("what does a chamber read of what was put in?", ("dose",)),
    "changed": Kind("did it change over the months?", ("over_time", "signals")),
    "records": Kind("are the records there?", ("calendar",)),
    "listed": Kind("what is there, one by one?", ()),
}


def unfit_forms(figure: Figure) -> list[str]:
    """Return the forms of a figure that do not answer its kind of question; words always may.

    A figure without a kind may have no picture.
    """
    allowed = (*(KINDS[figure.kind].forms if figure.kind else ()), WORDS)
    return sorted({panel.form for panel in figure.panels} - set(allowed))
